//! A PostgreSQL server of a test's own, to be stopped and started under a running service.

use std::path::PathBuf;
use std::process::Command;

use tempfile::TempDir;

/// The server; stopped and removed when dropped.
pub struct OwnPostgres {
    bin: PathBuf,
    port: u16,
    folder: TempDir,
}

impl OwnPostgres {
    /// Makes and starts one.
    pub fn start_new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let server = OwnPostgres { bin: bin(), port, folder };
        if is_root() {
            // The server refuses to run as root, so root hands it to the user that Debian's package makes.
            let given = Command::new("chown").arg("postgres").arg(server.folder.path()).status().unwrap();
            assert!(given.success());
        }
        let cluster = server.cluster();
        server
            .run("initdb", &["-D", &cluster, "-U", "rigbill", "--auth=trust", "-E", "UTF8", "--locale=C", "--no-sync"]);
        server.start();
        server
    }

    /// Address of the database that every server has.
    pub fn url(&self) -> String {
        format!("postgres://rigbill@127.0.0.1:{}/postgres", self.port)
    }

    /// Starts it, and waits until it takes connections.
    pub fn start(&self) {
        let options = format!(
            "-p {} -c listen_addresses=127.0.0.1 -c unix_socket_directories='' -c fsync=off -c max_connections=50",
            self.port
        );
        let log = self.folder.path().join("log").display().to_string();
        self.run("pg_ctl", &["-D", &self.cluster(), "-w", "-t", "60", "-s", "-l", &log, "-o", &options, "start"]);
    }

    /// Stops it as a power cut would.
    pub fn stop(&self) {
        self.run("pg_ctl", &["-D", &self.cluster(), "-m", "immediate", "-w", "-s", "stop"]);
    }

    /// Has all its processes stand still (`STOP`) or go on (`CONT`): connections stay, and nothing answers.
    pub fn signal(&self, signal: &str) {
        let file = self.folder.path().join("cluster/postmaster.pid");
        // The folder is closed to others than its user and root.
        let first = std::fs::read_to_string(file).unwrap().lines().next().unwrap().to_owned();
        let children = Command::new("ps").args(["-o", "pid=", "--ppid", &first]).output().unwrap();
        let children = String::from_utf8(children.stdout).unwrap();
        for process in [first.as_str()].into_iter().chain(children.split_whitespace()) {
            // One that has ended in the meantime is no matter.
            let _ = Command::new("kill").args([&format!("-{signal}"), process]).output().unwrap();
        }
    }

    fn cluster(&self) -> String {
        self.folder.path().join("cluster").display().to_string()
    }

    fn run(&self, program: &str, arguments: &[&str]) {
        let program = self.bin.join(program);
        let mut command = if is_root() { Command::new("runuser") } else { Command::new(&program) };
        if is_root() {
            command.args(["-u", "postgres", "--"]).arg(&program);
        }
        // What the server prints goes to its log: it would keep a pipe of ours open.
        let out = self.folder.path().join("out");
        let file = std::fs::File::create(&out).unwrap();
        command.args(arguments).current_dir(self.folder.path()).stdout(file.try_clone().unwrap()).stderr(file);
        let status = command.status().unwrap();
        assert!(status.success(), "{arguments:?}: {}", std::fs::read_to_string(out).unwrap());
    }
}

impl Drop for OwnPostgres {
    fn drop(&mut self) {
        if self.folder.path().join("cluster/postmaster.pid").exists() {
            self.signal("CONT");
            self.stop();
        }
    }
}

fn is_root() -> bool {
    let id = Command::new("id").arg("-u").output().unwrap();
    id.stdout == b"0\n"
}

/// The folder with the server's programs: Debian keeps them out of the PATH.
fn bin() -> PathBuf {
    let found = Command::new("bash")
        .args(["-c", "command -v initdb || printf '%s\\n' /usr/lib/postgresql/*/bin/initdb | sort -V | tail -n 1"])
        .output()
        .unwrap();
    let initdb = PathBuf::from(String::from_utf8(found.stdout).unwrap().trim());
    assert!(initdb.is_file(), "no PostgreSQL server here: install the package postgresql");
    initdb.canonicalize().unwrap().parent().unwrap().to_owned()
}
