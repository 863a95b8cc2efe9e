//! Invitation codes: 26 base32 characters, which are 130 random bits.
//!
//! The alphabet is RFC 4648's (`a`–`z`, `2`–`7`), written in lower case without padding. A code may be read out, typed
//! and pasted: case, spaces and dashes do not count. Only its [`hash`] is stored.

use super::{RandomnessError, random};
use data_encoding::BASE32_NOPAD;
use sha2::{Digest, Sha256};

/// The characters of a code: 26 × 5 bits = 130 bits.
pub const LENGTH: usize = 26;

/// Makes a new code, in the form that [`normalize`] returns.
///
/// # Errors
/// When the operating system gives no random bytes.
pub fn generate() -> Result<String, RandomnessError> {
    // 17 bytes are 136 bits; the first 26 characters hold 130 of them, each character five whole random bits.
    let mut code = BASE32_NOPAD.encode(&random::<17>()?).to_ascii_lowercase();
    code.truncate(LENGTH);
    Ok(code)
}

/// Makes the code of a form that may be sent twice: the same for the same words, and nobody's guess without the secret.
pub fn kept(secret: &[u8; 32], words: &str) -> String {
    let mut code = BASE32_NOPAD.encode(&Sha256::new().chain_update(secret).chain_update(words).finalize());
    code.make_ascii_lowercase();
    code.truncate(LENGTH);
    code
}

/// Returns the code that a person meant, or `None` when the text cannot be one.
///
/// # Examples
/// ```
/// use evenfield::accounts::code;
/// let read_out = "ABCD EFGH-IJKL MNOP-QRST UVWX-YZ";
/// assert_eq!(code::normalize(read_out).as_deref(), Some("abcdefghijklmnopqrstuvwxyz"));
/// assert_eq!(code::normalize("0189"), None);
/// ```
pub fn normalize(text: &str) -> Option<String> {
    let mut code = String::with_capacity(LENGTH);
    for character in text.chars().filter(|&c| !c.is_whitespace() && !is_dash(c)) {
        let character = character.to_ascii_lowercase();
        if code.len() == LENGTH || !matches!(character, 'a'..='z' | '2'..='7') {
            return None;
        }
        code.push(character);
    }
    (code.len() == LENGTH).then_some(code)
}

/// Returns the digest under which a normalized code is stored. 130 random bits need no slow hash.
pub fn hash(code: &str) -> [u8; 32] {
    Sha256::digest(code).into()
}

/// The hyphen, and what word processors and phones make of it.
fn is_dash(character: char) -> bool {
    matches!(character, '-' | '\u{ad}' | '\u{2010}'..='\u{2015}' | '\u{2212}' | '\u{fe63}' | '\u{ff0d}')
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::HashSet;

    #[test]
    fn a_new_code_has_26_characters_and_is_its_own_normal_form() {
        let code = generate().unwrap();
        assert_eq!(code.len(), 26);
        assert_eq!(normalize(&code), Some(code.clone()));
    }

    #[test]
    fn new_codes_differ_and_use_all_32_characters_at_either_end() {
        let codes: HashSet<String> = (0..2_000).map(|_| generate().unwrap()).collect();
        assert_eq!(codes.len(), 2_000);
        // 2,000 draws miss one of 32 characters with probability below 32 × (31/32)^2000 < 1e-25.
        for place in [0, LENGTH - 1] {
            assert_eq!(codes.iter().map(|code| code.as_bytes()[place]).collect::<HashSet<_>>().len(), 32);
        }
    }

    #[test]
    fn what_is_not_a_code_is_refused() {
        let full = "abcdefghijklmnopqrstuvwxyz";
        for text in ["", " - ", &full[1..], &format!("{full}a"), &full.replace('a', "0"), &full.replace('b', "1")] {
            assert_eq!(normalize(text), None, "{text:?}");
        }
        for odd in ["ａbcdefghijklmnopqrstuvwxyz", "äbcdefghijklmnopqrstuvwxyz", "a\0cdefghijklmnopqrstuvwxyz"] {
            assert_eq!(normalize(odd), None, "{odd:?}");
        }
    }

    #[test]
    fn the_digest_is_sha_256() {
        let digest = data_encoding::HEXLOWER.encode(&hash("abc")); // FIPS 180-2, appendix B.1
        assert_eq!(digest, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    proptest! {
        #[test]
        fn case_spaces_and_dashes_are_forgiven(
            code in "[a-z2-7]{26}",
            upper in prop::collection::vec(any::<bool>(), 26),
            between in prop::collection::vec("[ \t\n\u{a0}–—-]{0,2}", 26),
        ) {
            let typed: String = code.chars().zip(upper).zip(between).map(|((c, upper), gap)| {
                format!("{}{gap}", if upper { c.to_ascii_uppercase() } else { c })
            }).collect();
            prop_assert_eq!(normalize(&typed), Some(code));
        }

        #[test]
        fn a_normal_form_is_normal(text in ".{0,60}") {
            if let Some(code) = normalize(&text) {
                prop_assert_eq!(normalize(&code), Some(code));
            }
        }
    }
}
