//! gzip, with an end to what it may grow to.

use std::borrow::Cow;
use std::io::Read as _;

use flate2::read::GzDecoder;

use super::{Fault, RideFileError};

/// Largest file once unpacked, bytes.
pub const MOST_UNPACKED: usize = 64 << 20;

const GZIP: &[u8] = b"\x1f\x8b";

/// How large the file is once unpacked, counted without keeping it; one byte more than allowed stands for all that is larger, and
/// what can't be unpacked is as large as what could.
#[must_use]
pub fn unpacked_size(bytes: &[u8]) -> usize {
    if !bytes.starts_with(GZIP) {
        return bytes.len();
    }
    let mut reader = GzDecoder::new(bytes).take(MOST_UNPACKED as u64 + 1);
    let (mut piece, mut size) = ([0; 16 * 1024], 0);
    while let Ok(read @ 1..) = reader.read(&mut piece) {
        size += read;
    }
    size
}

/// The file itself, whether it came gzipped or not. Twice is once too often: what is gzip again is no ride file.
///
/// # Errors
/// [`Fault::Gzip`] and [`Fault::TooLarge`].
pub fn unpack(bytes: &[u8]) -> Result<Cow<'_, [u8]>, RideFileError> {
    if !bytes.starts_with(GZIP) {
        return Ok(Cow::Borrowed(bytes));
    }
    // Of the right size from the beginning: one that grows is there twice while it does.
    let mut unpacked = Vec::with_capacity(unpacked_size(bytes));
    // One byte more than allowed tells a file that is too large from one that just fits; nothing beyond is unpacked.
    let mut reader = GzDecoder::new(bytes).take(MOST_UNPACKED as u64 + 1);
    reader
        .read_to_end(&mut unpacked)
        .map_err(|error| RideFileError::whole(Fault::Gzip(error.to_string())))?;
    if unpacked.len() > MOST_UNPACKED {
        return Err(RideFileError::whole(Fault::TooLarge));
    }
    Ok(Cow::Owned(unpacked))
}

#[cfg(test)]
mod tests {
    use std::io::Write as _;

    use flate2::Compression;
    use flate2::write::GzEncoder;

    use super::*;

    fn gzip(size: usize) -> Vec<u8> {
        let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
        let zeros = vec![b' '; 1 << 20];
        let mut left = size;
        while left > 0 {
            let part = left.min(zeros.len());
            encoder.write_all(&zeros[..part]).unwrap();
            left -= part;
        }
        encoder.finish().unwrap()
    }

    #[test]
    fn what_just_fits_is_taken_and_a_bomb_is_not() {
        assert_eq!(unpack(b"plain").unwrap().as_ref(), b"plain");
        assert_eq!(unpack(&gzip(MOST_UNPACKED)).unwrap().len(), MOST_UNPACKED);
        assert_eq!(unpacked_size(&gzip(MOST_UNPACKED)), MOST_UNPACKED);
        assert_eq!(unpacked_size(&gzip(2 * MOST_UNPACKED)), MOST_UNPACKED + 1);
        let bomb = gzip(MOST_UNPACKED + 1);
        assert!(bomb.len() < MOST_UNPACKED / 500, "{}", bomb.len());
        assert_eq!(unpack(&bomb).unwrap_err().fault, Fault::TooLarge);
        let broken = &gzip(1000)[..20];
        assert!(matches!(unpack(broken).unwrap_err().fault, Fault::Gzip(_)));
    }
}
