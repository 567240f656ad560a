//! The save light: in a word, what has become of what was written here.

/// What is known of the entries that were written here.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Light {
    /// Entries that are being written to the browser's own disk.
    pub writing: usize,
    /// Entries on this device that the server has not confirmed.
    pub waiting: usize,
    /// A request to the server is under way.
    pub sending: bool,
    /// What the server would not take, with its reason.
    pub refused: usize,
    /// The browser's own disk failed: what it said.
    pub fault: Option<String>,
    /// There is somebody to send to, and it answered.
    pub server: Server,
}

/// What is known of the server.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Server {
    /// Not asked yet.
    #[default]
    Unknown,
    /// It answers.
    There,
    /// It can't be reached.
    Away,
    /// It answers, but wants to know who is there.
    SignIn,
    /// This page came from no server that keeps entries.
    None,
}

impl Light {
    /// The mark and the words of the light.
    pub fn words(&self) -> (&'static str, String) {
        if let Some(fault) = &self.fault {
            return ("!", format!("not kept: {fault}"));
        }
        if self.writing > 0 {
            return ("…", format!("keeping {}", self.writing));
        }
        if self.refused > 0 {
            return ("!", format!("{} not taken, kept here", self.refused));
        }
        match (self.waiting, self.server) {
            (0, Server::Away) => ("○", "offline, all saved".into()),
            (0, Server::None) => ("●", "kept here".into()),
            (0, Server::SignIn) => ("○", "signed out, all saved".into()),
            (0, _) => ("●", "saved".into()),
            (n, Server::There | Server::Unknown) if self.sending => ("◐", format!("sending {n}")),
            (n, Server::Away) => ("○", format!("offline: {n} kept here")),
            (n, Server::SignIn) => ("○", format!("signed out: {n} kept here")),
            (n, _) => ("○", format!("{n} kept here")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_light_says_saved_only_when_the_server_has_everything() {
        let light = |writing, waiting, sending, server| Light { writing, waiting, sending, server, ..Light::default() }.words().1;
        for (said, words) in [
            (light(0, 0, false, Server::There), "saved"),
            (light(1, 0, false, Server::There), "keeping 1"),
            (light(0, 2, true, Server::There), "sending 2"),
            (light(0, 5, false, Server::Away), "offline: 5 kept here"),
            (light(0, 5, true, Server::Away), "offline: 5 kept here"),
            (light(0, 3, false, Server::SignIn), "signed out: 3 kept here"),
            (light(0, 3, false, Server::None), "3 kept here"),
        ] {
            assert_eq!(said, words);
        }
        let broken = Light { fault: Some("the disk is full".into()), ..Light::default() };
        assert_eq!(broken.words().1, "not kept: the disk is full");
    }
}
