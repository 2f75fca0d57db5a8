//! Reading a recording, as far as it is intact.

use std::fs::File;
use std::io::{BufReader, Read};
use std::path::Path;

use saggar_core::checksum::CRC;
use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::{Origin, Tick};

use super::{HEAD, LogHeader, MAGIC, ORIGIN, PROGRAMME, RECORD_BYTES_MAX, TICK};
use saggar_files::Diagnostic;
use saggar_files::plain_file;

/// A record after the header.
#[derive(Clone, Debug, PartialEq)]
pub enum LogRecord {
    /// The bytes of a programme.
    Programme(Vec<u8>),
    /// The core's memory before the next tick.
    Origin {
        /// Number of the last tick before it.
        number: u32,
        /// Digest of the programme that was loaded.
        programme: Option<[u8; DIGEST_BYTES]>,
        /// The memory.
        memory: Vec<u8>,
    },
    /// A tick.
    Tick(Tick),
}

/// Where a recording is damaged, and how.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LogDamage {
    /// Number of intact bytes before the damage.
    pub intact_bytes: u64,
    /// A record is corrupt; otherwise the file ends in the middle of one.
    pub corrupt: bool,
}

/// A recording being read.
#[derive(Debug)]
pub struct Reader<R> {
    input: R,
    at: u64,
    /// Its header.
    pub head: LogHeader,
}

impl Reader<BufReader<File>> {
    /// Opens a recording.
    ///
    /// # Errors
    /// It cannot be read, or is not a recording.
    pub fn open(path: &Path) -> Result<Self, Diagnostic> {
        let file = plain_file::open(path).map_err(|fault| fault.diagnostic(path))?;
        Self::on(BufReader::new(file)).map_err(|why| {
            let help = if why.starts_with("recorded by another core") {
                "replay it with the tool that recorded it: the versions stand in docs/formats.md"
            } else {
                "give a file that `saggar device watch --record` wrote"
            };
            Diagnostic::for_file(path, why, help)
        })
    }
}

impl<R: Read> Reader<R> {
    /// Reads the header of a recording.
    ///
    /// # Errors
    /// Why it is not a recording.
    pub fn on(mut input: R) -> Result<Self, String> {
        match read_up_to(&mut input, MAGIC.len()).as_slice() {
            magic if magic == MAGIC => {}
            [name @ .., version] if *name == MAGIC[..7] => {
                return Err(format!(
                    "recorded by another core: the recording has version {version}, and this tool \
                     replays version {}",
                    MAGIC[7]
                ));
            }
            _ => return Err("this is not a recording of a firing".to_owned()),
        }
        let mut at = MAGIC.len() as u64;
        match read_record(&mut input, &mut at) {
            Ok(Some((HEAD, bytes))) => {
                let head = postcard::from_bytes(&bytes)
                    .map_err(|_| "its head is damaged".to_owned())?;
                Ok(Self { input, at, head })
            }
            Ok(_) | Err(_) => Err("its head is damaged or missing".to_owned()),
        }
    }

    /// The next record; `None` at the end.
    ///
    /// # Errors
    /// The recording is damaged here.
    pub fn record(&mut self) -> Result<Option<LogRecord>, LogDamage> {
        let torn = LogDamage { intact_bytes: self.at, corrupt: true };
        let Some((kind, bytes)) = read_record(&mut self.input, &mut self.at)? else {
            return Ok(None);
        };
        let record = match kind {
            PROGRAMME => Some(LogRecord::Programme(bytes)),
            ORIGIN => postcard::from_bytes::<Origin<'_>>(&bytes).ok().map(|origin| {
                let Origin { number, programme, memory } = origin;
                LogRecord::Origin { number, programme, memory: memory.to_vec() }
            }),
            TICK => postcard::from_bytes(&bytes).ok().map(LogRecord::Tick),
            _ => None,
        };
        record.map(Some).ok_or(torn)
    }
}

/// Kind and bytes of the next record.
fn read_record(
    input: &mut impl Read,
    at: &mut u64,
) -> Result<Option<(u8, Vec<u8>)>, LogDamage> {
    let cut = LogDamage { intact_bytes: *at, corrupt: false };
    let head = read_up_to(input, 3);
    let (kind, low, high) = match *head.as_slice() {
        [kind, low, high] => (kind, low, high),
        [] => return Ok(None),
        _ => return Err(cut),
    };
    let length = usize::from(u16::from_le_bytes([low, high]));
    if length > RECORD_BYTES_MAX {
        return Err(LogDamage { corrupt: true, ..cut });
    }
    let mut rest = read_up_to(input, length + 4);
    if rest.len() < length + 4 {
        return Err(cut);
    }
    let sum = rest.split_off(length);
    let mut digest = CRC.digest();
    digest.update(&head);
    digest.update(&rest);
    if digest.finalize().to_le_bytes() != *sum {
        return Err(LogDamage { corrupt: true, ..cut });
    }
    *at += (head.len() + length + sum.len()) as u64;
    Ok(Some((kind, rest)))
}

/// The next bytes; fewer at the end, or if they cannot be read.
fn read_up_to(input: &mut impl Read, length: usize) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(length);
    let _ = input.take(length as u64).read_to_end(&mut bytes);
    bytes
}
