//! Codes in secret addresses: 32 random bytes as base64url, stored as their digest.

use super::{RandomnessError, random};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use sha2::{Digest, Sha256};

/// Makes a new code.
///
/// # Errors
/// When the operating system gives no random bytes.
pub fn generate() -> Result<String, RandomnessError> {
    Ok(URL_SAFE_NO_PAD.encode(random::<32>()?))
}

/// Makes the code of a form that may be sent twice: the same for the same words, and nobody's guess without the secret.
pub fn kept(secret: &[u8; 32], words: &str) -> String {
    URL_SAFE_NO_PAD.encode(Sha256::new().chain_update(secret).chain_update(words).finalize())
}

/// Tells whether a text has the form of a code, which spares a look into the database.
pub fn is_well_formed(text: &str) -> bool {
    URL_SAFE_NO_PAD.decode(text).is_ok_and(|bytes| bytes.len() == 32)
}

/// Returns the digest under which a code is stored. 256 random bits need no slow hash.
pub fn hash(code: &str) -> [u8; 32] {
    Sha256::digest(code).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_has_256_bits_and_its_form() {
        let code = generate().unwrap();
        assert_eq!((code.len(), is_well_formed(&code)), (43, true));
        assert_ne!(code, generate().unwrap());
        for odd in ["", &code[1..], &format!("{code}A"), "../../etc/passwd", &code.replace(&code[..1], "!")] {
            assert!(!is_well_formed(odd), "{odd}");
        }
    }

    #[test]
    fn a_form_that_is_sent_twice_has_one_code_that_depends_on_the_secret() {
        assert_eq!(kept(&[1; 32], "a form"), kept(&[1; 32], "a form"));
        assert_ne!(kept(&[1; 32], "a form"), kept(&[2; 32], "a form"));
        assert_ne!(kept(&[1; 32], "a form"), kept(&[1; 32], "another"));
        assert!(is_well_formed(&kept(&[1; 32], "a form")));
    }
}
