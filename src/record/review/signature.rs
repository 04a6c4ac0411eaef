//! Signatures in OpenSSH's format for files.
//!
//! Promises: what is made here, `ssh-keygen -Y verify` takes, and the other way round; RSA is refused on both sides; a
//! key with a passphrase, or one of an agent, signs by `ssh-keygen` itself. Source: OpenSSH's PROTOCOL.sshsig. Must not
//! be here: who is trusted.

use ssh_key::{Algorithm, HashAlg, LineEnding, PrivateKey, PublicKey, SshSig};

/// What a signature is for: one that was made for anything else counts for nothing here.
pub const NAMESPACE: &str = "quadjig-review";

/// Why something can't be signed, or a signature says nothing.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SignatureError {
    /// Not a key in OpenSSH's format.
    #[error("this is no private key in OpenSSH's format")]
    NoKey,
    /// A key that takes a passphrase.
    #[error("this key has a passphrase, and none is asked for here")]
    Passphrase,
    /// RSA.
    #[error("RSA keys are not taken here; make another one: ssh-keygen -t ed25519")]
    Rsa,
    /// Another kind that can't sign here.
    #[error("keys of the kind {0} can't sign here; ed25519 and ecdsa-sha2-nistp256 can")]
    Kind(String),
    /// Not a signature.
    #[error("its signature is none in OpenSSH's format")]
    NoSignature,
    /// Made for something else.
    #[error("its signature was made for another purpose: {}", .0.escape_debug())]
    Namespace(String),
    /// The bytes are others.
    #[error("it is not as it was signed")]
    NotAsSigned,
}

/// Signs bytes with the key of a file in OpenSSH's format.
///
/// # Errors
/// The key is none, has a passphrase, or is of a kind that is not taken.
pub fn sign(key: &str, bytes: &[u8]) -> Result<String, SignatureError> {
    let key = PrivateKey::from_openssh(key).map_err(|_| SignatureError::NoKey)?;
    match key.algorithm() {
        Algorithm::Rsa { .. } => return Err(SignatureError::Rsa),
        _ if key.is_encrypted() => return Err(SignatureError::Passphrase),
        _ => {}
    }
    let kind = || SignatureError::Kind(key.algorithm().to_string());
    let signature = key.sign(NAMESPACE, HashAlg::Sha512, bytes).map_err(|_| kind())?;
    signature.to_pem(LineEnding::LF).map_err(|_| kind())
}

/// The key that signed these bytes for a review.
///
/// # Errors
/// The signature is none, is RSA's, is for something else, or of other bytes.
pub fn signer(signature: &str, bytes: &[u8]) -> Result<PublicKey, SignatureError> {
    let signature = SshSig::from_pem(signature).map_err(|_| SignatureError::NoSignature)?;
    if matches!(signature.public_key().algorithm(), Algorithm::Rsa { .. }) {
        return Err(SignatureError::Rsa);
    }
    if signature.namespace() != NAMESPACE {
        return Err(SignatureError::Namespace(signature.namespace().to_owned()));
    }
    let key = PublicKey::from(signature.public_key().clone());
    key.verify(NAMESPACE, bytes, &signature).map_err(|_| SignatureError::NotAsSigned)?;
    Ok(key)
}

/// A key as people compare it.
#[must_use]
pub fn fingerprint(key: &PublicKey) -> String {
    key.fingerprint(HashAlg::Sha256).to_string()
}
