//! Who may do what: the roles, the rights, and the table of routes with the right that each needs.
//!
//! A route that does not stand in the table is refused to everybody (`guard`), and a test compares the table with the API description.
//! What an entry says decides too: a floor hand writes readings, not the people of the shop (`to_write`).

use axum::http::Method;
use job::entry::{Entry, EntryId, What};
use job::registers::Card;

/// What a request needs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Right {
    /// Nothing: what everybody may see, or what checks its own code or password.
    Open,
    /// To be at the machine itself, or to be the owner.
    Near,
    /// To hold a link that was given out and not taken back.
    Link,
    /// Any role: to look.
    Look,
    /// Any role: to add to the record. What an entry says may need more.
    Record,
    /// Office or owner.
    Office,
    /// Owner.
    Owner,
}

impl Right {
    /// The roles that have it; none where no role is asked for.
    pub const fn roles(self) -> &'static [&'static str] {
        match self {
            Self::Open | Self::Link => &[],
            Self::Look | Self::Record => &["floor", "office", "owner"],
            Self::Office => &["office", "owner"],
            Self::Near | Self::Owner => &["owner"],
        }
    }

    /// Whether somebody of these roles has it.
    pub fn is_of(self, roles: &[String]) -> bool {
        roles.iter().any(|role| self.roles().contains(&role.as_str()))
    }

    /// In words.
    pub fn words(self) -> String {
        match self {
            Self::Open => "everybody".into(),
            Self::Near => "who is at the machine itself, and the owner".into(),
            Self::Link => "who holds a link".into(),
            _ => self.roles().join(", "),
        }
    }
}

/// A route and what it needs.
#[derive(Clone, Debug, PartialEq)]
pub struct Route {
    /// GET, POST, DELETE ..
    pub method: Method,
    /// Its path, names in braces.
    pub path: &'static str,
    /// What it needs.
    pub right: Right,
}

const fn route(method: Method, path: &'static str, right: Right) -> Route {
    Route { method, path, right }
}

/// Every route of the server.
pub const ROUTES: &[Route] = &[
    route(Method::GET, "/", Right::Open),
    route(Method::GET, "/api", Right::Open),
    route(Method::GET, "/api/openapi.json", Right::Open),
    route(Method::GET, "/health", Right::Open),
    route(Method::GET, "/metrics", Right::Near),
    route(Method::GET, "/trust", Right::Open),
    route(Method::GET, "/trust/authority.crt", Right::Open),
    route(Method::POST, "/api/owner", Right::Open),
    route(Method::POST, "/api/session", Right::Open),
    route(Method::GET, "/api/session", Right::Look),
    route(Method::DELETE, "/api/session", Right::Look),
    route(Method::POST, "/api/password", Right::Look),
    route(Method::GET, "/api/people", Right::Owner),
    route(Method::POST, "/api/people", Right::Owner),
    route(Method::POST, "/api/people/{name}/password", Right::Owner),
    route(Method::POST, "/api/people/{name}/gone", Right::Owner),
    route(Method::POST, "/api/sync", Right::Record),
    route(Method::GET, "/api/registers", Right::Look),
    route(Method::POST, "/api/registers", Right::Record),
    route(Method::GET, "/api/jobs", Right::Look),
    route(Method::POST, "/api/jobs", Right::Record),
    route(Method::GET, "/api/jobs/{number}", Right::Look),
    route(Method::POST, "/api/jobs/{number}/entries", Right::Record),
    route(Method::GET, "/api/jobs/{number}/sheet", Right::Look),
    route(Method::GET, "/api/jobs/{number}/sheet.pdf", Right::Look),
    route(Method::GET, "/api/jobs/{number}/papers/{file}", Right::Look),
    route(Method::GET, "/api/jobs/{number}/drawings", Right::Look),
    route(Method::GET, "/api/jobs/{number}/drawings/{seat}/{name}", Right::Look),
    route(Method::GET, "/api/jobs/{number}/links", Right::Office),
    route(Method::POST, "/api/jobs/{number}/links", Right::Office),
    route(Method::DELETE, "/api/links/{name}", Right::Office),
    route(Method::GET, "/certificate/{token}", Right::Link),
    route(Method::GET, "/api/compute", Right::Look),
    route(Method::GET, "/api/compute/{kind}", Right::Look),
    route(Method::POST, "/api/compute/{kind}", Right::Look),
];

/// The right that a route needs. A HEAD is a GET without its body.
pub(crate) fn needed(method: &Method, path: &str) -> Option<Right> {
    let method = if method == Method::HEAD { &Method::GET } else { method };
    ROUTES.iter().find(|route| route.path == path && route.method == method).map(|route| route.right)
}

/// The right that an entry needs to be written. `registers` are the entries of the registers: a correction there needs the right of
/// what it replaces as well as that of what it puts in its place.
///
/// Source: ours. People of the shop are the owner's; gauges, machines, metals and customers are kept by the office; what is cut off a
/// bar, and the whole work on a job, is written where it happens. Who releases answers to the customer: office or owner.
pub(crate) fn to_write(entry: &Entry, registers: &[Entry]) -> Right {
    match &entry.what {
        What::Register { card } => of_card(card),
        What::Correction { replaces, with, .. } => match &**with {
            What::Register { card } => of_card(card).max(of_replaced(*replaces, registers, registers.len())),
            _ => Right::Record,
        },
        What::Signature { role, .. } if role == "released" => Right::Office,
        _ => Right::Record,
    }
}

fn of_card(card: &Card) -> Right {
    match (card.register(), card) {
        ("person", _) => Right::Owner,
        (_, Card::Used { .. }) => Right::Record,
        _ => Right::Office,
    }
}

/// The right that the entry `replaces` of the registers needed; the owner's where it is not known. `steps` ends a ring of corrections.
fn of_replaced(replaces: EntryId, registers: &[Entry], steps: usize) -> Right {
    match registers.iter().find(|entry| entry.id == replaces).map(|entry| &entry.what) {
        Some(What::Register { card }) => of_card(card),
        Some(What::Correction { replaces, with, .. }) if steps > 0 => match &**with {
            What::Register { card } => of_card(card).max(of_replaced(*replaces, registers, steps - 1)),
            _ => Right::Owner,
        },
        _ => Right::Owner,
    }
}

/// Whether an entry speaks of the people of the shop.
pub(crate) fn is_of_people(entry: &Entry) -> bool {
    match &entry.what {
        What::Register { card } => card.register() == "person",
        What::Correction { with, .. } => matches!(&**with, What::Register { .. }),
        _ => false,
    }
}
