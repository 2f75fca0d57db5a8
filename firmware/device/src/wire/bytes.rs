//! Deserialises byte arrays in a loop. serde's own reader is unrolled byte by byte for every length,
//! which costs flash. The encoding is the same.

use serde::de::{Error, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer};

pub(crate) fn array<'de, D: Deserializer<'de>, const N: usize>(
    from: D,
) -> Result<[u8; N], D::Error> {
    from.deserialize_tuple(N, ByteArrayVisitor)
}

/// An optional array.
pub(crate) fn optional_array<'de, D: Deserializer<'de>, const N: usize>(
    from: D,
) -> Result<Option<[u8; N]>, D::Error> {
    Ok(Option::<ByteArray<N>>::deserialize(from)?.map(|read| read.0))
}

struct ByteArray<const N: usize>([u8; N]);

impl<'de, const N: usize> Deserialize<'de> for ByteArray<N> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        array(from).map(Self)
    }
}

struct ByteArrayVisitor<const N: usize>;

impl<'de, const N: usize> Visitor<'de> for ByteArrayVisitor<N> {
    type Value = [u8; N];

    fn expecting(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("an array of bytes")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut from: A) -> Result<[u8; N], A::Error> {
        let mut array = [0; N];
        for (index, byte) in array.iter_mut().enumerate() {
            *byte = from.next_element()?.ok_or_else(|| Error::invalid_length(index, &self))?;
        }
        Ok(array)
    }
}

#[cfg(test)]
mod tests {
    use serde::Serialize;

    use super::*;

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    struct Arrays {
        #[serde(deserialize_with = "array")]
        always: [u8; 3],
        #[serde(deserialize_with = "optional_array")]
        perhaps: Option<[u8; 3]>,
    }

    #[test]
    fn arrays_encode_like_those_of_serde() {
        for perhaps in [None, Some([9, 0, 200])] {
            let arrays = Arrays { always: [255, 0, 1], perhaps };
            let (mut buffer, mut other) = ([0; 8], [0; 8]);
            let written = postcard::to_slice(&arrays, &mut buffer).unwrap();
            let theirs = postcard::to_slice(&([255u8, 0, 1], perhaps), &mut other).unwrap();
            assert_eq!(written, theirs);
            assert_eq!(postcard::from_bytes::<Arrays>(written).unwrap(), arrays);
            let cut = &written[..written.len() - 1];
            assert!(postcard::from_bytes::<Arrays>(cut).is_err());
        }
    }
}
