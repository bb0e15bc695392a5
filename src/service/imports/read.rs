//! CSV records out of a file that comes in pieces.

use csv_core::{ReadRecordResult, Reader};

use super::RowFault;

/// Longest row, bytes: many times what the fullest one needs.
const ROW_LONGEST: usize = 64 * 1024;
/// Most columns of a row: more than twice as many as there are.
const COLUMNS_MOST: usize = 200;

/// One row: its fields as bytes, for they may be no UTF-8.
pub struct Record<'a> {
    /// Line on which it begins.
    pub line: u64,
    bytes: &'a [u8],
    ends: &'a [usize],
}

impl<'a> Record<'a> {
    /// The fields in order.
    pub fn fields(&self) -> impl ExactSizeIterator<Item = &'a [u8]> {
        let (bytes, ends) = (self.bytes, self.ends);
        (0..ends.len()).map(move |place| {
            let start = if place == 0 { 0 } else { ends[place - 1] };
            &bytes[start..ends[place]]
        })
    }
}

/// Reads records across the borders of pieces, in bounded memory.
pub struct Records {
    reader: Reader,
    bytes: Vec<u8>,
    ends: Vec<usize>,
    filled: usize,
    ended: usize,
    last: u8,
    last_line: u64,
}

impl Default for Records {
    fn default() -> Self {
        Records {
            reader: Reader::new(),
            bytes: vec![0; ROW_LONGEST],
            ends: vec![0; COLUMNS_MOST],
            filled: 0,
            ended: 0,
            last: 0,
            last_line: 0,
        }
    }
}

impl Records {
    /// The line that is being read.
    pub fn line(&self) -> u64 {
        self.reader.line()
    }

    /// The next record of a piece, which moves on; `None` when the piece is used up. An empty piece is the end of the
    /// file.
    ///
    /// # Errors
    /// A fault when a row is longer or has more columns than any row of items can.
    pub fn next(&mut self, piece: &mut &[u8]) -> Result<Option<Record<'_>>, RowFault> {
        let line = self.reader.line();
        let (result, read, written, ends) =
            self.reader.read_record(piece, &mut self.bytes[self.filled..], &mut self.ends[self.ended..]);
        if read > 0 {
            self.last = piece[read - 1];
        }
        *piece = &piece[read..];
        self.filled += written;
        self.ended += ends;
        let too_much = |what: &str| RowFault {
            line,
            column: None,
            message: format!("this row {what}: is a quotation mark left open?"),
        };
        match result {
            ReadRecordResult::InputEmpty | ReadRecordResult::End => Ok(None),
            ReadRecordResult::OutputFull => Err(too_much("is longer than 64 KiB")),
            ReadRecordResult::OutputEndsFull => Err(too_much("has more than 200 columns")),
            ReadRecordResult::Record => {
                let (filled, ended) = (self.filled, self.ended);
                (self.filled, self.ended) = (0, 0);
                let bytes = &self.bytes[..filled];
                // The reader stands behind the row: on the next line when a line feed ended it, and further on by
                // every line break within a field.
                let breaks = bytes.iter().filter(|&&byte| byte == b'\n').count() as u64;
                let behind = breaks + u64::from(self.last == b'\n');
                // Where carriage returns alone end the lines there is nothing to count but the rows.
                let line = self.reader.line().saturating_sub(behind).max(self.last_line + 1);
                self.last_line = line;
                Ok(Some(Record { line, bytes, ends: &self.ends[..ended] }))
            }
        }
    }
}
