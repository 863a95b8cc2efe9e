//! HMAC-SHA-256 for the library of tokens, and nothing else: the providers that come with it build in RSA and two elliptic
//! curves, which nobody here may use.

use hmac::{Hmac, KeyInit, Mac};
use jsonwebtoken::crypto::{CryptoProvider, JwtSigner, JwtVerifier, KeyUtils};
use jsonwebtoken::errors::{ErrorKind, Result};
use jsonwebtoken::signature::{self, Signer, Verifier};
use jsonwebtoken::{Algorithm, AlgorithmFamily, DecodingKey, EncodingKey};
use sha2::Sha256;
use std::sync::Once;

struct Hs256(Hmac<Sha256>);

impl Hs256 {
    fn new(algorithm: &Algorithm, family: AlgorithmFamily, secret: &[u8]) -> Result<Self> {
        if (*algorithm, family) != (Algorithm::HS256, AlgorithmFamily::Hmac) {
            return Err(ErrorKind::InvalidAlgorithm.into());
        }
        let mac = <Hmac<Sha256> as KeyInit>::new_from_slice(secret).map_err(|_| ErrorKind::InvalidKeyFormat)?;
        Ok(Self(mac))
    }

    fn over(&self, message: &[u8]) -> Hmac<Sha256> {
        let mut mac = self.0.clone();
        mac.update(message);
        mac
    }
}

impl Signer<Vec<u8>> for Hs256 {
    fn try_sign(&self, message: &[u8]) -> std::result::Result<Vec<u8>, signature::Error> {
        Ok(self.over(message).finalize().into_bytes().to_vec())
    }
}

impl Verifier<Vec<u8>> for Hs256 {
    fn verify(&self, message: &[u8], signature: &Vec<u8>) -> std::result::Result<(), signature::Error> {
        // In the same time wherever they differ.
        self.over(message).verify_slice(signature).map_err(|_| signature::Error::new())
    }
}

impl JwtSigner for Hs256 {
    fn algorithm(&self) -> Algorithm {
        Algorithm::HS256
    }
}

impl JwtVerifier for Hs256 {
    fn algorithm(&self) -> Algorithm {
        Algorithm::HS256
    }
}

fn signer(algorithm: &Algorithm, key: &EncodingKey) -> Result<Box<dyn JwtSigner>> {
    Ok(Box::new(Hs256::new(algorithm, key.family(), key.as_bytes())?))
}

fn verifier(algorithm: &Algorithm, key: &DecodingKey) -> Result<Box<dyn JwtVerifier>> {
    Ok(Box::new(Hs256::new(algorithm, key.family(), key.try_get_as_bytes()?)?))
}

static PROVIDER: CryptoProvider =
    CryptoProvider { signer_factory: signer, verifier_factory: verifier, key_utils: KeyUtils::new_unimplemented() };

/// Has the library sign and verify by this file; to be called before it does either.
pub(super) fn install() {
    static INSTALLED: Once = Once::new();
    INSTALLED.call_once(|| {
        // It refuses a second provider alone, and there is none.
        let _ = PROVIDER.install_default();
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hex(text: &str) -> Vec<u8> {
        data_encoding::HEXLOWER.decode(text.as_bytes()).unwrap()
    }

    #[test]
    fn a_published_message_has_its_published_code() {
        // RFC 4231, test case 2.
        let mac = Hs256::new(&Algorithm::HS256, AlgorithmFamily::Hmac, b"Jefe").unwrap();
        let expect = hex("5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843");
        let message = b"what do ya want for nothing?";
        assert_eq!(mac.try_sign(message).unwrap(), expect);
        assert!(mac.verify(message, &expect).is_ok());
        assert!(mac.verify(message, &expect[..31].to_vec()).is_err());
        assert!(mac.verify(b"what do ya want for nothing", &expect).is_err());
    }

    #[test]
    fn no_other_algorithm_signs() {
        for (algorithm, family) in [
            (Algorithm::HS384, AlgorithmFamily::Hmac),
            (Algorithm::EdDSA, AlgorithmFamily::Ed),
            (Algorithm::HS256, AlgorithmFamily::Rsa),
        ] {
            assert!(Hs256::new(&algorithm, family, &[7; 32]).is_err(), "{algorithm:?}");
        }
    }
}
