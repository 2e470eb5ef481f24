//! What is written of each print again and again, kept as it was written.

use spatial::index::PrintNo;
use std::sync::atomic::{AtomicIsize, AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

/// So many prints are written together when the first of them is asked for: they follow each other by label, and such are mostly
/// asked for together.
const BLOCK: usize = 64;

/// How much memory all that is kept may still take, bytes; less than nothing where the last block took more than was left.
#[derive(Debug)]
pub(super) struct Room(AtomicIsize);

impl Room {
    pub(super) fn new(bytes: usize) -> Arc<Self> {
        Arc::new(Self(AtomicIsize::new(bytes.cast_signed())))
    }

    fn is_left(&self) -> bool {
        self.0.load(Ordering::Relaxed) > 0
    }

    fn take(&self, bytes: usize) {
        self.0.fetch_sub(bytes.cast_signed(), Ordering::Relaxed);
    }

    fn give_back(&self, bytes: usize) {
        self.0.fetch_add(bytes.cast_signed(), Ordering::Relaxed);
    }
}

/// A piece of bytes for each print of a surface, made block by block when they are asked for, as long as there is room.
#[derive(Debug)]
pub(super) struct Prepared {
    blocks: Box<[OnceLock<Block>]>,
    prints: usize,
    room: Arc<Room>,
    taken: AtomicUsize,
}

/// The pieces of some prints that follow each other, with commas between them.
#[derive(Debug)]
struct Block {
    bytes: Box<[u8]>,
    /// Where each ends.
    ends: Box<[usize]>,
}

impl Prepared {
    pub(super) fn new(prints: usize, room: Arc<Room>) -> Self {
        Self {
            blocks: (0..prints.div_ceil(BLOCK)).map(|_| OnceLock::new()).collect(),
            prints,
            room,
            taken: AtomicUsize::new(0),
        }
    }

    /// Appends the pieces of prints with commas between them; `write` writes one that is not kept.
    pub(super) fn append(
        &self,
        numbers: &[PrintNo],
        out: &mut Vec<u8>,
        write: impl Fn(PrintNo, &mut Vec<u8>),
    ) {
        let block_of = |no: PrintNo| no as usize / BLOCK;
        // Neighbours in a block are copied at once.
        let runs = numbers.chunk_by(|one, next| one + 1 == *next && block_of(*one) == block_of(*next));
        for (place, run) in runs.enumerate() {
            if place > 0 {
                out.push(b',');
            }
            let number = block_of(run[0]);
            let cell = &self.blocks[number];
            if cell.get().is_none() && !self.room.is_left() {
                joined(run.iter().copied(), out, &write);
                continue;
            }
            let block = cell.get_or_init(|| self.keep(Block::made(number, self.prints, &write)));
            out.extend_from_slice(block.pieces(run[0] as usize % BLOCK, run.len()));
        }
    }

    fn keep(&self, block: Block) -> Block {
        let bytes = block.memory_bytes();
        self.room.take(bytes);
        self.taken.fetch_add(bytes, Ordering::Relaxed);
        block
    }

    /// About how much memory it takes, bytes.
    pub(super) fn memory_bytes(&self) -> usize {
        size_of_val(&*self.blocks) + self.taken.load(Ordering::Relaxed)
    }
}

impl Drop for Prepared {
    fn drop(&mut self) {
        self.room.give_back(self.taken.load(Ordering::Relaxed));
    }
}

/// Writes the pieces of prints with commas between them; where each ends.
fn joined(
    numbers: impl Iterator<Item = PrintNo>,
    out: &mut Vec<u8>,
    write: impl Fn(PrintNo, &mut Vec<u8>),
) -> Box<[usize]> {
    let ends = numbers.enumerate().map(|(place, no)| {
        if place > 0 {
            out.push(b',');
        }
        write(no, out);
        out.len()
    });
    ends.collect()
}

impl Block {
    fn made(number: usize, prints: usize, write: impl Fn(PrintNo, &mut Vec<u8>)) -> Self {
        let (first, after) = (number * BLOCK, prints.min((number + 1) * BLOCK));
        let mut bytes = Vec::new();
        let ends = joined((first..after).map(|no| no as PrintNo), &mut bytes, write);
        Self {
            ends,
            bytes: bytes.into_boxed_slice(),
        }
    }

    /// Some pieces that follow each other, with the commas between them.
    fn pieces(&self, first: usize, count: usize) -> &[u8] {
        let begin = first.checked_sub(1).map_or(0, |before| self.ends[before] + 1);
        &self.bytes[begin..self.ends[first + count - 1]]
    }

    fn memory_bytes(&self) -> usize {
        self.bytes.len() + size_of_val(&*self.ends)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(no: PrintNo, out: &mut Vec<u8>) {
        out.extend_from_slice(format!("<{no}>").as_bytes());
    }

    fn appended(prepared: &Prepared, numbers: &[PrintNo]) -> String {
        let mut out = b"before".to_vec();
        prepared.append(numbers, &mut out, piece);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn each_print_has_its_piece_whether_it_is_kept_or_not() {
        let count = 3 * BLOCK as PrintNo + 5;
        for bytes in [0, 100, 1 << 20] {
            let prepared = Prepared::new(count as usize, Room::new(bytes));
            for _ in 0..2 {
                for no in (0..count).rev() {
                    assert_eq!(appended(&prepared, &[no]), format!("before<{no}>"));
                }
                for numbers in [
                    vec![],
                    (0..count).collect(),
                    vec![0, 1, 3, 63, 64, 65, 127, 128, count - 1],
                ] {
                    let pieces: Vec<String> = numbers.iter().map(|no| format!("<{no}>")).collect();
                    assert_eq!(
                        appended(&prepared, &numbers),
                        format!("before{}", pieces.join(","))
                    );
                }
            }
        }
    }

    #[test]
    fn what_is_kept_takes_room_and_gives_it_back() {
        let room = Room::new(1);
        let one = Prepared::new(2 * BLOCK, room.clone());
        let bare = one.memory_bytes();
        appended(&one, &[3]);
        let kept = one.memory_bytes();
        assert!(kept > bare && !room.is_left());
        appended(&one, &[BLOCK as PrintNo]);
        assert_eq!(one.memory_bytes(), kept, "there was no room for the second block");
        drop(one);
        assert!(room.is_left());
    }
}
