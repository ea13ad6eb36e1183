//! Digests of results, to compare those of two runs to the last bit.

use std::fmt::Write as _;

use sha2::{Digest, Sha256};

/// A value as the little-endian bytes that are digested.
pub(crate) trait Digested: Copy {
    fn write(self, bytes: &mut Vec<u8>);
}

impl Digested for f32 {
    /// Every NaN counts as missing data, whatever its bits.
    fn write(self, bytes: &mut Vec<u8>) {
        let value = if self.is_nan() { Self::NAN } else { self };
        bytes.extend(value.to_le_bytes());
    }
}

impl Digested for u8 {
    fn write(self, bytes: &mut Vec<u8>) {
        bytes.push(self);
    }
}

impl Digested for u32 {
    fn write(self, bytes: &mut Vec<u8>) {
        bytes.extend(self.to_le_bytes());
    }
}

/// SHA-256 of values row by row, in hexadecimal.
pub(crate) fn digest<T: Digested>(values: &[T]) -> String {
    const AT_ONCE: usize = 1 << 16;
    let mut hash = Sha256::new();
    let mut bytes = Vec::with_capacity(AT_ONCE * 4);
    for values in values.chunks(AT_ONCE) {
        bytes.clear();
        for value in values {
            value.write(&mut bytes);
        }
        hash.update(&bytes);
    }
    let mut text = String::new();
    for byte in hash.finalize() {
        write!(text, "{byte:02x}").expect("writing to a string cannot fail");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SHA-256 of "abc": FIPS 180-4 example, NIST "SHA-256 example values".
    #[test]
    fn the_digest_is_that_of_the_bytes() {
        let expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(digest(b"abc"), expected);
        assert_eq!(digest(&[0x4241_u32]), digest(b"AB\0\0"));
    }

    #[test]
    fn missing_data_is_missing_data() {
        assert_eq!(digest(&[1.5, f32::NAN]), digest(&[1.5, -f32::NAN]));
        assert_ne!(digest(&[1.5, f32::NAN]), digest(&[1.5, 2.0]));
    }
}
