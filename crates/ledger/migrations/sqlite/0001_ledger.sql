-- The record. A row is never changed. `body` is the canonical form of the entry, byte for byte what was hashed.
-- Clustered by job, so that opening a job reads neighbours only.
create table entries (
    shop text not null,
    job text not null,
    number integer not null check (number > 0),
    id blob not null check (length(id) = 16),
    arrived text not null,
    by_whom text not null,
    body text not null,
    hash blob not null check (length(hash) = 32),
    primary key (shop, job, number)
) strict, without rowid;
create unique index entries_by_id on entries (shop, id);
-- Number, hash and time of the last entry of each job: where the next one is chained to, and how a lost end of a chain is seen.
create table heads (
    shop text not null,
    job text not null,
    number integer not null check (number > 0),
    hash blob not null check (length(hash) = 32),
    arrived text not null,
    primary key (shop, job)
) strict, without rowid;
-- What a server keeps that is no entry: passwords, sessions, links. `sum` is SHA-256 over what stands beside it.
create table asides (
    shop text not null,
    kind text not null,
    name text not null,
    value text not null,
    until_s integer not null,
    sum blob not null check (length(sum) = 32),
    primary key (shop, kind, name)
) strict, without rowid;
