//! The mutations.

/// Inputs do not grow beyond this; readers refuse larger ones by a limit of their own, which their tests cover.
const LARGEST: usize = 1 << 16;

/// Pieces that readers stumble over.
const PIECES: &[&str] = &[
    "1e999",
    "-1e999",
    "NaN",
    "inf",
    "-0",
    "0",
    "1e-400",
    "99999999999999999999",
    "-9999",
    "1,5",
    "1.2.3",
    "+",
    "-",
    "24:00",
    "00:00",
    "02/29",
    "12/31/2004",
    "1/0/0",
    ";",
    ",",
    "\t",
    "\"",
    "\"\"",
    "'",
    "\\",
    "\r\n",
    "\n",
    "\r",
    "\0",
    "\u{feff}",
    "\u{b0}",
    "\u{b2}",
    "\u{fffd}",
    "[",
    "]",
    "[[",
    "{",
    "}",
    "=",
    "#",
    "degF",
    "degC",
    "cfm",
    "L/s",
    "%",
    "(",
    ")",
    "((((((((((((((((",
    "^",
    "^^",
    "max(",
    "sqrt(-1)",
    "1/0",
    "/",
    "*",
    " ",
    "  ",
    "\u{a0}",
    "true",
    "null",
];

/// Makes inputs from seeds.
#[derive(Debug)]
pub struct Mutator {
    state: u64,
    pool: Vec<Vec<u8>>,
}

impl Mutator {
    /// A mutator of these seeds; the same number gives the same inputs.
    pub fn new(number: u64, seeds: Vec<Vec<u8>>) -> Self {
        let mut pool = seeds;
        pool.push(Vec::new());
        Self { state: number, pool }
    }

    /// The next random number (`SplitMix64`).
    fn random(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A random number below `end`; 0 when `end` is 0.
    fn below(&mut self, end: usize) -> usize {
        if end == 0 { 0 } else { (self.random() % end as u64) as usize }
    }

    /// A random part of something so long, short parts more often.
    fn part(&mut self, length: usize) -> std::ops::Range<usize> {
        let start = self.below(length + 1);
        let longest = (length - start).min(1 << self.below(12));
        let size = self.below(longest + 1);
        start..start + size
    }

    /// The next input.
    pub fn next_input(&mut self) -> Vec<u8> {
        let which = self.below(self.pool.len());
        let mut bytes = self.pool[which].clone();
        let most = 1 << self.below(5);
        let changes = 1 + self.below(most);
        for _ in 0..changes {
            self.change(&mut bytes);
        }
        bytes.truncate(LARGEST);
        bytes
    }

    fn change(&mut self, bytes: &mut Vec<u8>) {
        let at = self.below(bytes.len() + 1);
        match self.below(9) {
            0 if at < bytes.len() => bytes[at] ^= 1 << self.below(8),
            1 if at < bytes.len() => bytes[at] = self.random() as u8,
            2 => {
                let part = self.part(bytes.len());
                bytes.drain(part);
            }
            3 => {
                let part = self.part(bytes.len());
                let copy = bytes[part].to_vec();
                bytes.splice(at..at, copy);
            }
            4 => {
                let other = self.below(self.pool.len());
                let part = self.part(self.pool[other].len());
                let copy = self.pool[other][part].to_vec();
                bytes.splice(at..at, copy);
            }
            5 => bytes.truncate(at),
            6 => self.change_line(bytes),
            _ => {
                let piece = PIECES[self.below(PIECES.len())];
                let gone = if self.below(2) == 0 { piece.len().min(bytes.len() - at) } else { 0 };
                bytes.splice(at..at + gone, piece.bytes());
            }
        }
    }

    /// Removes, doubles or moves a whole line, the unit in which tables break.
    fn change_line(&mut self, bytes: &mut Vec<u8>) {
        let mut lines: Vec<Vec<u8>> = bytes.split_inclusive(|b| *b == b'\n').map(<[u8]>::to_vec).collect();
        if lines.is_empty() {
            return;
        }
        let from = self.below(lines.len());
        let to = self.below(lines.len());
        match self.below(3) {
            0 => {
                lines.remove(from);
            }
            1 => {
                let line = lines[from].clone();
                lines.insert(to, line);
            }
            _ => lines.swap(from, to),
        }
        *bytes = lines.concat();
    }
}

#[cfg(test)]
mod tests {
    use super::Mutator;

    #[test]
    fn the_same_number_gives_the_same_inputs() {
        let inputs = |number| {
            let mut mutator = Mutator::new(number, vec![b"55 degF".to_vec(), b"1,2\n3,4\n".to_vec()]);
            (0..500).map(|_| mutator.next_input()).collect::<Vec<_>>()
        };
        assert_eq!(inputs(7), inputs(7));
        assert_ne!(inputs(7), inputs(8));
        let mut different = inputs(7);
        different.sort();
        different.dedup();
        assert!(different.len() > 300, "{} of 500 inputs differ", different.len());
    }
}
