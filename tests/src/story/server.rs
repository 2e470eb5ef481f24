//! The program's server, running for as long as its story.

use super::{Answer, Client};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::thread;
use std::time::{Duration, Instant};

/// Far beyond what any step takes; only what hangs gets there.
const PATIENCE: Duration = Duration::from_secs(60);

/// A server, told to stop when the story ends.
pub struct Server {
    child: Child,
    /// Asks it.
    pub client: Client,
    /// What it writes to its standard error output after the address.
    log: Receiver<String>,
}

impl Server {
    /// Starts a `serve` command and waits until it is ready.
    ///
    /// # Panics
    /// When it ends instead.
    #[must_use]
    pub fn start(mut command: Command) -> Self {
        let mut child = command
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let lines = BufReader::new(child.stderr.take().expect("it is piped")).lines();
        let (said, log) = channel();
        thread::spawn(move || lines.map_while(Result::ok).try_for_each(|line| said.send(line)));
        let mut heard = Vec::new();
        let base = loop {
            match log.recv_timeout(PATIENCE) {
                Ok(line) => match address(&line) {
                    Some(base) => break base,
                    None => heard.push(line),
                },
                Err(_) => {
                    let _ = child.kill();
                    panic!("the server did not tell its address: {heard:?}");
                }
            }
        };
        let server = Self {
            child,
            client: Client::new(base),
            log,
        };
        server.wait_until_ready();
        server
    }

    fn wait_until_ready(&self) {
        let started = Instant::now();
        while self.client.try_get("/health/ready").map(|answer| answer.status) != Some(200) {
            assert!(started.elapsed() < PATIENCE, "the server is never ready");
            thread::sleep(Duration::from_millis(20));
        }
    }

    /// Asks for a path.
    pub fn get(&self, path: &str) -> Answer {
        self.client.get(path)
    }

    /// Where its links start.
    #[must_use]
    pub fn base(&self) -> &str {
        self.client.base()
    }

    /// Its process.
    #[must_use]
    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// Kills it with SIGKILL, as a power cut would.
    ///
    /// # Panics
    /// When it has ended before.
    pub fn kill(&mut self) {
        self.child.kill().expect("it still runs");
        let _ = self.child.wait();
    }

    /// Tells it to stop (SIGTERM) and waits; its exit status and what it had written to its log.
    ///
    /// # Panics
    /// When it does not stop.
    pub fn stop(mut self) -> (ExitStatus, Vec<String>) {
        let status = self.end().expect("told to stop, the server stops by itself");
        (status, self.log.iter().collect())
    }

    /// `None` where it had to be killed.
    fn end(&mut self) -> Option<ExitStatus> {
        if let Ok(Some(status)) = self.child.try_wait() {
            return Some(status);
        }
        let told = Command::new("kill")
            .args(["-TERM", &self.pid().to_string()])
            .status();
        let until = Instant::now() + PATIENCE;
        while told.as_ref().is_ok_and(ExitStatus::success) && Instant::now() < until {
            if let Ok(Some(status)) = self.child.try_wait() {
                return Some(status);
            }
            thread::sleep(Duration::from_millis(10));
        }
        let _ = self.child.kill();
        let _ = self.child.wait();
        None
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let ended = self.end();
        if !thread::panicking() {
            assert!(ended.is_some(), "told to stop, the server did not stop by itself");
        }
    }
}

fn address(line: &str) -> Option<String> {
    let (_, rest) = line.split_once("Serving on ")?;
    Some(rest.split('/').take(3).collect::<Vec<_>>().join("/"))
}
