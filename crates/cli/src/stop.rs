//! Why the program stops: something was refused, or a file could not be read or written.

use std::process::ExitCode;

/// What ends a run before its time, in one sentence.
#[derive(Debug)]
pub enum Stop {
    /// A request or a file that can't be answered: exit status 2.
    Refused(String),
    /// The machine said no (a full disk, a missing folder): exit status 1.
    Failed(String),
    /// The reader of our output went away: nothing is wrong.
    Unread,
}

impl Stop {
    /// Says the sentence on standard error and gives the exit status.
    pub fn exit(self) -> ExitCode {
        match self {
            Self::Refused(sentence) => {
                eprintln!("{sentence}");
                ExitCode::from(2)
            }
            Self::Failed(sentence) => {
                eprintln!("{sentence}");
                ExitCode::FAILURE
            }
            Self::Unread => ExitCode::SUCCESS,
        }
    }
}

impl From<calc::Refused> for Stop {
    fn from(refused: calc::Refused) -> Self {
        Self::Refused(refused.to_string())
    }
}

impl From<std::io::Error> for Stop {
    fn from(fault: std::io::Error) -> Self {
        match fault.kind() {
            std::io::ErrorKind::BrokenPipe => Self::Unread,
            _ => Self::Failed(format!("could not write: {fault}; see that there is room and that the place can be written")),
        }
    }
}
