//! A voice note: a WAVE file (Multimedia Programming Interface and Data Specifications 1.0, IBM and Microsoft, 1991,
//! chapter 3) of one form only, so that it plays in every browser, says nothing beside the voice, and needs no decoder.

/// Samples a second: what a telephone carries (ITU-T G.711, 1988, section 2).
pub const RATE: u32 = 8_000;
/// Longest, seconds: common practice, no source. Twice that would no longer go where a photograph goes.
pub const LONGEST_S: u32 = 30;
/// Bytes of a sample: 16 bits, linear.
const SAMPLE: u32 = 2;
/// What stands before the samples.
const HEAD: usize = 44;

/// Whether bytes claim to be a WAVE file.
pub fn is_wave(bytes: &[u8]) -> bool {
    bytes.starts_with(b"RIFF")
}

/// Writes a voice note of samples from -1 to 1; what is longer than [`LONGEST_S`] is cut off.
pub fn write(samples: &[f32]) -> Vec<u8> {
    let most = usize::try_from(LONGEST_S * RATE).expect("invariant: half a minute is countable");
    let samples = &samples[..samples.len().min(most)];
    let length = u32::try_from(samples.len()).expect("invariant: half a minute is countable");
    let mut bytes = Vec::with_capacity(HEAD + samples.len() * 2);
    bytes.extend(head(length * SAMPLE));
    for sample in samples {
        #[expect(clippy::cast_possible_truncation, reason = "held to the range before")]
        let level = (sample.clamp(-1.0, 1.0) * f32::from(i16::MAX)) as i16;
        bytes.extend(level.to_le_bytes());
    }
    bytes
}

/// Whether they are a voice note: one channel, 8,000 samples of 16 bits a second, at most half a minute, nothing else.
pub fn is_voice_note(bytes: &[u8]) -> bool {
    let Some((head, samples)) = bytes.split_at_checked(HEAD) else {
        return false;
    };
    let Ok(length) = u32::try_from(samples.len()) else {
        return false;
    };
    let is_whole = length > 0 && length.is_multiple_of(SAMPLE);
    is_whole && length <= LONGEST_S * RATE * SAMPLE && head == self::head(length)
}

fn head(length: u32) -> [u8; HEAD] {
    let mut head = [0; HEAD];
    let parts: [&[u8]; 12] = [
        b"RIFF",
        &(length + 36).to_le_bytes(),
        b"WAVEfmt ",
        &16_u32.to_le_bytes(), // bytes of what follows up to 'data'
        &1_u16.to_le_bytes(),  // linear
        &1_u16.to_le_bytes(),  // one channel
        &RATE.to_le_bytes(),
        &(RATE * SAMPLE).to_le_bytes(),
        &2_u16.to_le_bytes(), // bytes of a sample of all channels
        &16_u16.to_le_bytes(),
        b"data",
        &length.to_le_bytes(),
    ];
    let mut at = 0;
    for part in parts {
        head[at..at + part.len()].copy_from_slice(part);
        at += part.len();
    }
    head
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(length: u32) -> Vec<u8> {
        let mut bytes = head(length).to_vec();
        bytes.resize(HEAD + usize::try_from(length).unwrap(), 7);
        bytes
    }

    #[test]
    fn what_is_written_is_a_voice_note_of_the_same_levels() {
        let bytes = write(&[0.0, 1.0, -1.0, 2.0, 0.5]);
        assert!(is_voice_note(&bytes));
        let levels = bytes[HEAD..].as_chunks::<2>().0.iter().copied();
        let levels: Vec<i16> = levels.map(i16::from_le_bytes).collect();
        assert_eq!(levels, [0, 32_767, -32_767, 32_767, 16_383]);
        let long = write(&vec![0.1; 400_000]);
        assert!(is_voice_note(&long));
        assert_eq!(long.len(), HEAD + 480_000);
    }

    #[test]
    fn only_what_this_program_writes_is_taken() {
        assert!(is_voice_note(&note(2)));
        assert!(is_voice_note(&note(LONGEST_S * RATE * SAMPLE)));
        assert!(!is_voice_note(&note(LONGEST_S * RATE * SAMPLE + 2)));
        assert!(!is_voice_note(&note(3)), "half a sample");
        assert!(!is_voice_note(&note(0)));
        for at in 0..HEAD {
            let mut other = note(100);
            other[at] ^= 1;
            assert!(!is_voice_note(&other), "byte {at}");
        }
        let mut longer = note(100);
        longer.extend(b"LIST");
        assert!(!is_voice_note(&longer), "a chunk that says more");
        assert!(!is_voice_note(&note(100)[..HEAD]));
    }
}
