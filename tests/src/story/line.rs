//! A client that asks again and again over one connection.

use serde_json::Value;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::ops::Range;

/// One client's connection to the service, to measure by. It reads answers as plainly as a database's driver reads rows, and leaves them
/// where they were read to, so that most of what is measured is the server.
pub struct Line {
    stream: TcpStream,
    host: String,
    /// Room for an answer, of which so much has come.
    answer: Vec<u8>,
    come: usize,
    /// The pieces of its body.
    body: Vec<Range<usize>>,
}

impl Line {
    /// A connection to a server whose links start so.
    ///
    /// # Panics
    /// Here and below: when there is none, or what comes is not HTTP.
    #[must_use]
    pub fn to(base: &str) -> Self {
        let host = base.trim_start_matches("http://").to_owned();
        let stream = TcpStream::connect(&host).expect("a connection");
        stream.set_nodelay(true).expect("a connection");
        Self {
            stream,
            host,
            answer: vec![0; 1 << 16],
            come: 0,
            body: Vec::new(),
        }
    }

    /// Asks, and tells the answer's status and how long its body is.
    pub fn get(&mut self, path: &str) -> (u16, usize) {
        let asked = format!("GET {path} HTTP/1.1\r\nHost: {}\r\n\r\n", self.host);
        self.stream
            .write_all(asked.as_bytes())
            .expect("an answer in HTTP");
        self.come = 0;
        self.body.clear();
        let begin = self.end_of(0, b"\r\n\r\n");
        let head = std::str::from_utf8(&self.answer[..begin]).expect("an answer in HTTP");
        let status = head.split(' ').nth(1).and_then(|status| status.parse().ok());
        let status = status.expect("a status line");
        let mut headers = head.lines().filter_map(|line| line.split_once(": "));
        let length = headers.find(|(name, _)| name.eq_ignore_ascii_case("content-length"));
        match length.map(|(_, length)| length.parse::<usize>().expect("a length")) {
            Some(length) => {
                self.fill(begin + length);
                self.body.push(begin..begin + length);
            }
            None => self.chunks(begin),
        }
        (status, self.body.iter().map(Range::len).sum())
    }

    /// The last answer.
    #[must_use]
    pub fn json(&self) -> Value {
        let pieces = self.body.iter().map(|piece| &self.answer[piece.clone()]);
        serde_json::from_slice(&pieces.collect::<Vec<_>>().concat()).expect("JSON")
    }

    /// Reads a body in chunks (RFC 9112, section 7.1), the last of which is empty.
    fn chunks(&mut self, mut at: usize) {
        loop {
            let begin = self.end_of(at, b"\r\n");
            let length = std::str::from_utf8(&self.answer[at..begin - 2]).expect("an answer in HTTP");
            let length = usize::from_str_radix(length, 16).expect("an answer in HTTP");
            at = begin + length + 2;
            self.fill(at);
            if length == 0 {
                return;
            }
            self.body.push(begin..begin + length);
        }
    }

    /// Where a text ends that comes after a place, when it has come.
    fn end_of(&mut self, from: usize, text: &[u8]) -> usize {
        loop {
            let rest = self.answer[..self.come].get(from..).unwrap_or_default();
            if let Some(found) = rest.windows(text.len()).position(|part| part == text) {
                return from + found + text.len();
            }
            self.fill(self.come + 1);
        }
    }

    /// Reads until so much of the answer has come.
    fn fill(&mut self, length: usize) {
        while self.come < length {
            if self.answer.len() < length + (1 << 15) {
                self.answer.resize(2 * length + (1 << 16), 0);
            }
            let read = self
                .stream
                .read(&mut self.answer[self.come..])
                .expect("an answer in HTTP");
            assert!(read > 0, "the service has hung up");
            self.come += read;
        }
    }
}
