//! What a JPEG file says beside its picture: where, when and with what it was taken, and by whom. A phone of this
//! program draws each photograph anew before it keeps it, so that none says more than what is seen; another's may.

/// Tags of a TIFF directory (TIFF 6.0, section 8; Exif 2.32, tables 4 to 15) that say it.
const TELLING: [u16; 17] = [
    0x010e, // what it shows
    0x010f, // maker
    0x0110, // model
    0x0132, // when it was changed
    0x013b, // artist
    0x013c, // computer
    0x8298, // whose it is
    0x8825, // place, by satellite
    0x9003, // when it was taken
    0x9004, // when it was made digital
    0x927c, // the maker's own notes
    0x9286, // comment
    0xa420, // its own number
    0xa430, // owner
    0xa431, // the camera's number
    0xa434, // the lens
    0xa435, // the lens' number
];
/// The tag that points to the directory of Exif.
const EXIF_DIRECTORY: u16 = 0x8769;

/// Says whether a JPEG file says more than its picture. What browsers write themselves (size, colours, resolution) does
/// not count; what cannot be read where it would be said does.
pub fn says_more(jpeg: &[u8]) -> bool {
    let mut rest = jpeg.get(2..).unwrap_or_default();
    // Segments up to the picture itself: a marker, a length that counts itself, what it holds.
    while let [0xff, marker, after @ ..] = rest {
        match marker {
            0xff => rest = &rest[1..],
            0x01 | 0xd0..=0xd8 => rest = after,
            0xd9 | 0xda => return false,
            _ => {
                let Some((length, _)) = after.split_first_chunk::<2>() else {
                    return false;
                };
                let length = usize::from(u16::from_be_bytes(*length));
                let Some(held) = after.get(2..length) else {
                    return false;
                };
                if is_telling(*marker, held) {
                    return true;
                }
                rest = &after[length..];
            }
        }
    }
    false
}

fn is_telling(marker: u8, held: &[u8]) -> bool {
    match marker {
        // APP1: Exif, else XMP.
        0xe1 => match held.strip_prefix(b"Exif\0\0") {
            Some(tiff) => !is_harmless(tiff),
            None => held.starts_with(b"http://"),
        },
        // APP13: resources, of which number 0x0404 holds what IPTC says.
        0xed => held
            .windows(6)
            .position(|at| at == b"8BIM\x04\x04")
            .is_some_and(|at| {
                // An empty name, then the length.
                held.get(at + 8..at + 12) != Some(&[0; 4])
            }),
        // A comment.
        0xfe => true,
        _ => false,
    }
}

/// Says whether a TIFF structure can be read and says nothing telling.
fn is_harmless(tiff: &[u8]) -> bool {
    let is_little = match tiff.get(..4) {
        Some(b"II*\0") => true,
        Some(b"MM\0*") => false,
        _ => return false,
    };
    let reader = Tiff { tiff, is_little };
    let Some(first) = reader.long(4) else {
        return false;
    };
    let Some(tags) = reader.directory(first) else {
        return false;
    };
    let exif = tags.iter().find(|(tag, _)| *tag == EXIF_DIRECTORY);
    let inner = match exif {
        None => Vec::new(),
        Some((_, at)) => match reader.directory(*at) {
            Some(inner) => inner,
            None => return false,
        },
    };
    let mut all = tags.iter().chain(&inner);
    !all.any(|(tag, _)| TELLING.contains(tag))
}

struct Tiff<'a> {
    tiff: &'a [u8],
    is_little: bool,
}

impl Tiff<'_> {
    fn short(&self, at: usize) -> Option<u16> {
        let bytes = self.tiff.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(if self.is_little {
            u16::from_le_bytes(bytes)
        } else {
            u16::from_be_bytes(bytes)
        })
    }

    fn long(&self, at: usize) -> Option<usize> {
        let bytes = self.tiff.get(at..at.checked_add(4)?)?.try_into().ok()?;
        let value = if self.is_little {
            u32::from_le_bytes(bytes)
        } else {
            u32::from_be_bytes(bytes)
        };
        usize::try_from(value).ok()
    }

    /// Returns the tags of a directory, each with its value as a place.
    fn directory(&self, at: usize) -> Option<Vec<(u16, usize)>> {
        let count = usize::from(self.short(at)?);
        let entry = |number: usize| {
            let at = at.checked_add(2 + 12 * number)?;
            Some((self.short(at)?, self.long(at.checked_add(8)?)?))
        };
        (0..count).map(entry).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn segment(marker: u8, held: &[u8]) -> Vec<u8> {
        let length = u16::try_from(held.len() + 2).unwrap().to_be_bytes();
        [&[0xff, marker], &length[..], held].concat()
    }

    fn jpeg(segments: &[Vec<u8>]) -> Vec<u8> {
        let mut bytes = vec![0xff, 0xd8];
        bytes.extend(segment(0xe0, b"JFIF\0\x01\x01\0\0\x01\0\x01\0\0"));
        bytes.extend(segments.concat());
        bytes.extend(segment(0xda, b"\x01\x01\0\0\x3f\0"));
        bytes.extend([0x12, 0xff, 0xd9]);
        bytes
    }

    /// Exif whose first directory has one tag, and points to an inner one with another.
    fn exif(tag: u16, inner: u16) -> Vec<u8> {
        let mut tiff = b"MM\0*\0\0\0\x08".to_vec();
        let entry = |tag: u16, value: u32| {
            let mut bytes = tag.to_be_bytes().to_vec();
            bytes.extend([0, 4, 0, 0, 0, 1]);
            bytes.extend(value.to_be_bytes());
            bytes
        };
        tiff.extend([0, 2]);
        tiff.extend(entry(tag, 1));
        tiff.extend(entry(EXIF_DIRECTORY, 38));
        tiff.extend([0; 4]);
        tiff.extend([0, 1]);
        tiff.extend(entry(inner, 640));
        tiff.extend([0; 4]);
        segment(0xe1, &[b"Exif\0\0", &tiff[..]].concat())
    }

    #[test]
    fn a_picture_that_says_where_and_with_what_it_was_taken_is_told_from_one_that_does_not() {
        let (orientation, width, place, number) = (0x0112, 0xa002, 0x8825, 0xa431);
        assert!(!says_more(&[0xff, 0xd8, 0xff, 0xd9]));
        assert!(!says_more(&jpeg(&[])));
        // As a browser writes it that says size and orientation, and an empty list of other words.
        let empty = segment(0xed, b"Photoshop 3.0\08BIM\x04\x04\0\0\0\0\0\0");
        assert!(!says_more(&jpeg(&[exif(orientation, width), empty])));
        assert!(says_more(&jpeg(&[exif(place, width)])));
        assert!(says_more(&jpeg(&[exif(orientation, number)])));
        let words = segment(0xed, b"Photoshop 3.0\08BIM\x04\x04\0\0\0\0\0\x02ab");
        assert!(says_more(&jpeg(&[words])));
        assert!(says_more(&jpeg(&[segment(
            0xe1,
            b"http://ns.adobe.com/xap/1.0/\0<x/>"
        )])));
        assert!(says_more(&jpeg(&[segment(0xfe, b"taken at the berth")])));
        assert!(
            says_more(&jpeg(&[segment(0xe1, b"Exif\0\0cut")])),
            "unreadable"
        );
    }

    proptest! {
        #[test]
        fn any_bytes_are_read_to_an_end(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
            says_more(&bytes);
            let exif = segment(0xe1, &[b"Exif\0\0II*\0", &bytes[..]].concat());
            says_more(&jpeg(&[exif]));
        }
    }
}
