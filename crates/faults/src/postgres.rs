//! A PostgreSQL of one's own for a test: made in a new folder, on a free port, gone when it is dropped.

use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use uuid::Uuid;

/// A database server that a test started.
#[derive(Debug)]
pub struct Postgres {
    bin: PathBuf,
    folder: PathBuf,
    port: u16,
    safe: bool,
    as_root: bool,
}

/// How it keeps what is acknowledged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keeps {
    /// As a shop's would: every commit waits for the disk.
    OnDisk,
    /// Faster, for tests that pull no plug.
    InMemory,
}

impl Postgres {
    /// Makes and starts one. Needs the server programs of PostgreSQL; `cargo proof` installs them.
    pub fn start(keeps: Keeps) -> Self {
        let bin =
            programs().expect("the server programs of PostgreSQL are missing; install postgresql (Debian: apt-get install postgresql)");
        let folder = std::env::temp_dir().join(format!("bushwright-{}", Uuid::now_v7().simple()));
        std::fs::create_dir(&folder).unwrap();
        let as_root = said(Command::new("id").arg("-u")).trim() == "0";
        if as_root {
            // The server does not run as root: its folder belongs to the user that its package made.
            assert!(quiet(Command::new("chown").arg("postgres").arg(&folder)), "no user postgres");
            assert!(quiet(Command::new("chmod").arg("755").arg(&folder)));
        }
        let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let made = Self { bin, folder, port, safe: keeps == Keeps::OnDisk, as_root };
        let data = made.folder.join("data");
        let mut initdb = made.program("initdb");
        initdb.arg("-D").arg(&data).args(["-U", "t", "--auth=trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"]);
        assert!(quiet(&mut initdb), "initdb failed");
        made.up();
        made
    }

    /// Its URL.
    pub fn url(&self) -> String {
        format!("postgres://t@127.0.0.1:{}/postgres", self.port)
    }

    /// Starts it where it is down.
    pub fn up(&self) {
        let settings = format!(
            "-c listen_addresses=127.0.0.1 -c port={} -c unix_socket_directories={} -c fsync={} -c max_connections=200",
            self.port,
            self.folder.display(),
            if self.safe { "on" } else { "off" }
        );
        let mut start = self.program("pg_ctl");
        start.arg("-D").arg(self.folder.join("data")).arg("-w").arg("-l").arg(self.folder.join("log")).args(["-o", &settings, "start"]);
        assert!(quiet(&mut start), "the database did not start: {}", std::fs::read_to_string(self.folder.join("log")).unwrap_or_default());
    }

    /// Stops it without asking, as a crash of its machine would stop the programs.
    pub fn down(&self) {
        let mut stop = self.program("pg_ctl");
        stop.arg("-D").arg(self.folder.join("data")).args(["-m", "immediate", "stop"]);
        quiet(&mut stop);
    }

    fn program(&self, name: &str) -> Command {
        let program = self.bin.join(name);
        let mut command = if self.as_root {
            let mut command = Command::new("runuser");
            command.args(["-u", "postgres", "--"]).arg(program);
            command
        } else {
            Command::new(program)
        };
        // The caller's folder may be one that the server's user can't read.
        command.current_dir("/");
        command
    }
}

impl Drop for Postgres {
    fn drop(&mut self) {
        self.down();
        drop(std::fs::remove_dir_all(&self.folder));
    }
}

/// The folder of the newest server programs.
fn programs() -> Option<PathBuf> {
    let mut versions: Vec<(u32, PathBuf)> = std::fs::read_dir("/usr/lib/postgresql")
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|entry| Some((entry.file_name().to_str()?.parse().ok()?, entry.path().join("bin"))))
        .filter(|(_, bin)| bin.join("initdb").exists())
        .collect();
    versions.sort();
    let on_the_path = || std::env::split_paths(&std::env::var_os("PATH")?).find(|folder| Path::new(folder).join("initdb").exists());
    versions.pop().map(|(_, bin)| bin).or_else(on_the_path)
}

fn quiet(command: &mut Command) -> bool {
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).status().is_ok_and(|status| status.success())
}

fn said(command: &mut Command) -> String {
    command.output().map(|output| String::from_utf8_lossy(&output.stdout).into_owned()).unwrap_or_default()
}
