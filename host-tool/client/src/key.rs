//! The key file of a device: 32 random bytes that only its owner may read.

use std::fs::File;
use std::io::Read as _;
use std::path::Path;

use saggar_device::wire::seal::{DeviceKey, KEY_BYTES, SEAL_BYTES};
use zeroize::{Zeroize as _, Zeroizing};

use saggar_files::Diagnostic;
use saggar_files::FilesError;
use saggar_files::atomic_file::{AtomicFile, WriteError};
use saggar_files::plain_file::{self, ReadError};

/// First line of a key file.
const HEADER: &str = "saggar device key, version 1";

/// Longest key file (bytes).
const FILE_BYTES_MAX: u64 = 256;

/// The bytes of a key, overwritten when dropped.
pub type Secret = Zeroizing<[u8; KEY_BYTES]>;

/// Writes a new random key to a new file.
///
/// # Errors
/// The file exists or cannot be written, or the system has no random numbers.
pub fn generate(path: &Path) -> Result<(), FilesError> {
    let mut secret = Secret::new([0; KEY_BYTES]);
    getrandom::fill(secret.as_mut()).map_err(|_| {
        let why = "the system gives no random numbers, so there can be no key";
        key_file_error(path, why, "use another machine")
    })?;
    // Allocated at once, because a growing string leaves copies of the key in memory.
    let mut text = Zeroizing::new(String::with_capacity(FILE_BYTES_MAX as usize));
    text.push_str(HEADER);
    text.push('\n');
    for byte in secret.iter() {
        for digit in [byte >> 4, byte & 15] {
            text.push(char::from_digit(u32::from(digit), 16).unwrap_or('0'));
        }
    }
    text.push('\n');
    let put = AtomicFile::create_private(path, text.as_bytes())?.commit(false);
    Ok(put.map_err(|why| explain_existing(why, path))?)
}

/// Says that a file with a key is never replaced, because devices depend on it.
pub fn explain_existing(why: WriteError, path: &Path) -> WriteError {
    let said =
        "it exists already, and a file with a key in it is never replaced: name another file";
    if why.exists { WriteError::new(path, said) } else { why }
}

/// The random salt of a device's settings: with it the same key, stored again, makes other sessions.
///
/// # Errors
/// The system has no random numbers.
pub fn generate_salt() -> Result<[u8; SEAL_BYTES], FilesError> {
    let mut salt = [0; SEAL_BYTES];
    getrandom::fill(&mut salt).map_err(|_| {
        let cure = "use another machine";
        Diagnostic::for_file("salt", "the system gives no random numbers", cure)
    })?;
    Ok(salt)
}

/// Reads a key file.
///
/// # Errors
/// It is not a key file, or others may read it.
pub fn read(path: &Path) -> Result<DeviceKey, FilesError> {
    let secret = read_secret(path)?;
    let why = "its key is all one digit, so it is not a random one";
    DeviceKey::new(*secret).ok_or_else(|| key_file_error(path, why, NEW_KEY_HELP).into())
}

/// Reads the bytes of a key file.
///
/// # Errors
/// It is not a key file, or others may read it.
pub fn read_secret(path: &Path) -> Result<Secret, FilesError> {
    let file = plain_file::open(path).map_err(|fault| match fault {
        ReadError::Missing => key_file_error(path, "there is no such file", NEW_KEY_HELP),
        ReadError::Folder | ReadError::Special => {
            key_file_error(path, "this is not a plain file", NEW_KEY_HELP)
        }
        ReadError::Refused(_) | ReadError::TooLarge(_) => {
            key_file_error(path, "you may not read it", "only the owner of a key may use it")
        }
    })?;
    let mut text = Zeroizing::new(String::with_capacity(2 * FILE_BYTES_MAX as usize));
    let read = (&file).take(FILE_BYTES_MAX).read_to_string(&mut text);
    let no_key = || key_file_error(path, "this is not a key file", NEW_KEY_HELP);
    read.map_err(|_| no_key())?;
    let digits = text.strip_prefix(HEADER).ok_or_else(no_key)?.trim();
    if digits.len() != 2 * KEY_BYTES {
        return Err(no_key().into());
    }
    let mut secret = Secret::new([0; KEY_BYTES]);
    for (byte, pair) in secret.iter_mut().zip(digits.as_bytes().chunks(2)) {
        let mut value = 0;
        for digit in pair {
            let digit = char::from(*digit).to_digit(16).ok_or_else(no_key)?;
            value = value << 4 | digit as u8;
        }
        *byte = value;
        value.zeroize();
    }
    // Only now, because the mode of a file without a key is not what is wrong with it.
    require_private(path, &file, &SecretFile::KEY_FILE)?;
    Ok(secret)
}

/// How to make a key.
const NEW_KEY_HELP: &str = "`saggar device key new --out FILE` makes one";

/// A kind of file with a key in it.
pub struct SecretFile {
    /// Its contents, in a phrase.
    contents: &'static str,
    /// What to do if others may have read it, in a phrase.
    if_exposed: &'static str,
}

impl SecretFile {
    /// A key file.
    pub const KEY_FILE: Self =
        Self { contents: "this key", if_exposed: "make a new one, and store it in the device" };
    /// The flash of a stand-in.
    pub const STANDIN_FLASH: Self = Self {
        contents: "this memory, and the key in it",
        if_exposed: "name another file for --memory, and a new key for --key",
    };
}

/// Checks that only its owner may read an open file with a key in it.
///
/// # Errors
/// Others may read it.
#[cfg(unix)]
pub fn require_private(
    path: &Path,
    file: &File,
    holder: &SecretFile,
) -> Result<(), FilesError> {
    use std::os::unix::fs::PermissionsExt as _;
    let mode = file.metadata().map_or(0o777, |data| data.permissions().mode());
    if mode & 0o077 == 0 {
        return Ok(());
    }
    let (name, SecretFile { contents: what, if_exposed: otherwise }) = (path.display(), holder);
    let message = format!("others may read {what} (mode {:03o})", mode & 0o777);
    let cure = format!("if nobody has: chmod 600 {name}; otherwise {otherwise}");
    Err(key_file_error(path, &message, &cure).into())
}

/// On other systems the permissions of the folder decide.
///
/// # Errors
/// None.
#[cfg(not(unix))]
pub fn require_private(_: &Path, _: &File, _: &SecretFile) -> Result<(), FilesError> {
    Ok(())
}

fn key_file_error(path: &Path, message: &str, help: &str) -> Diagnostic {
    Diagnostic::for_file(path, message, help)
}

#[cfg(all(test, unix))]
mod tests {
    use std::fs;
    use std::os::unix::fs::PermissionsExt as _;

    use super::*;

    #[test]
    fn each_new_key_differs_and_can_be_read_back() {
        let folder = tempfile::tempdir().unwrap();
        let [one, two] = ["one.key", "two.key"].map(|name| folder.path().join(name));
        generate(&one).unwrap();
        generate(&two).unwrap();
        assert_ne!(*read_secret(&one).unwrap(), *read_secret(&two).unwrap());
        assert_eq!(fs::metadata(&one).unwrap().permissions().mode() & 0o777, 0o600);
        read(&one).unwrap();
        let said = generate(&one).unwrap_err().to_string();
        assert!(said.contains("never replaced"), "{said}");
    }

    #[test]
    fn a_key_that_others_may_read_is_refused_with_the_cure() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("k");
        generate(&path).unwrap();
        for mode in [0o640, 0o604, 0o660, 0o644] {
            fs::set_permissions(&path, fs::Permissions::from_mode(mode)).unwrap();
            let error = read(&path).unwrap_err();
            let finding = &error.diagnostics()[0];
            assert!(finding.message.contains("others may read"), "{finding:?}");
            assert!(finding.help.as_ref().unwrap().contains("chmod 600"), "{finding:?}");
        }
    }

    #[test]
    fn a_file_that_is_not_a_key_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("k");
        let zeros = format!("{HEADER}\n{}\n", "0".repeat(64));
        let odd = format!("{HEADER}\n{}\n", "é".repeat(32));
        for text in
            ["", "secret", HEADER, &zeros, &odd, &format!("{HEADER}\n{}\n", "g".repeat(64))]
        {
            fs::write(&path, text).unwrap();
            for mode in [0o600, 0o644] {
                fs::set_permissions(&path, fs::Permissions::from_mode(mode)).unwrap();
                let error = read(&path).unwrap_err().diagnostics()[0].message.clone();
                let wrong_mode = error.contains("others may read");
                // Zeros are a key, although a bad one.
                assert_eq!(wrong_mode, mode == 0o644 && *text == *zeros, "{text}: {error}");
            }
        }
    }
}
