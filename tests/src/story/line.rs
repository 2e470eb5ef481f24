//! A client of the service.

use serde_json::Value;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::ops::Range;

/// One client's connection to the service. It reads answers as plainly as the database's driver reads rows, and leaves them where
/// they were read to, so that most of what is measured is the server.
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
    pub fn to(base: &str) -> Self {
        let host = base.trim_start_matches("http://").to_owned();
        let stream = TcpStream::connect(&host).unwrap();
        stream.set_nodelay(true).unwrap();
        Self {
            stream,
            host,
            answer: vec![0; 1 << 16],
            come: 0,
            body: Vec::new(),
        }
    }

    /// Asks, and tells how long the answer's body is.
    pub fn get(&mut self, path: &str) -> usize {
        let asked = format!("GET {path} HTTP/1.1\r\nHost: {}\r\n\r\n", self.host);
        self.stream.write_all(asked.as_bytes()).unwrap();
        self.come = 0;
        self.body.clear();
        let begin = self.end_of(0, b"\r\n\r\n");
        let head = std::str::from_utf8(&self.answer[..begin]).unwrap();
        assert!(head.starts_with("HTTP/1.1 200 "), "{path}: {head}");
        let mut headers = head.lines().filter_map(|line| line.split_once(": "));
        let length = headers.find(|(name, _)| name.eq_ignore_ascii_case("content-length"));
        match length.map(|(_, length)| length.parse::<usize>().unwrap()) {
            Some(length) => {
                self.fill(begin + length);
                self.body.push(begin..begin + length);
            }
            None => self.chunks(begin),
        }
        self.body.iter().map(Range::len).sum()
    }

    /// The last answer.
    pub fn json(&self) -> Value {
        let pieces = self.body.iter().map(|piece| &self.answer[piece.clone()]);
        serde_json::from_slice(&pieces.collect::<Vec<_>>().concat()).unwrap()
    }

    /// Reads a body in chunks (RFC 9112, section 7.1), the last of which is empty.
    fn chunks(&mut self, mut at: usize) {
        loop {
            let begin = self.end_of(at, b"\r\n");
            let length = std::str::from_utf8(&self.answer[at..begin - 2]).unwrap();
            let length = usize::from_str_radix(length, 16).unwrap();
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
            let read = self.stream.read(&mut self.answer[self.come..]).unwrap();
            assert!(read > 0, "the service has hung up");
            self.come += read;
        }
    }
}
