-- The record. A row is never changed. `body` is the canonical form of the entry, byte for byte what was hashed.
-- Every key starts with the shop; texts are compared byte by byte, as in the other store.
create table entries (
    shop text collate "C" not null,
    job text collate "C" not null,
    number bigint not null check (number > 0),
    id uuid not null,
    arrived text not null,
    by_whom text not null,
    body text not null,
    hash bytea not null check (length(hash) = 32),
    primary key (shop, job, number)
);
create unique index entries_by_id on entries (shop, id);
-- Number, hash and time of the last entry of each job: where the next one is chained to, and how a lost end of a chain is seen.
create table heads (
    shop text collate "C" not null,
    job text collate "C" not null,
    number bigint not null check (number > 0),
    hash bytea not null check (length(hash) = 32),
    arrived text not null,
    primary key (shop, job)
);
-- What a server keeps that is no entry: passwords, sessions, links. `sum` is SHA-256 over what stands beside it.
create table asides (
    shop text collate "C" not null,
    kind text collate "C" not null,
    name text collate "C" not null,
    value text not null,
    until_s bigint not null,
    sum bytea not null check (length(sum) = 32),
    primary key (shop, kind, name)
);
