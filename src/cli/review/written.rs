//! A statement put beside its recipe, with its signature.
//!
//! Promises: the signature lies there before the statement does; nothing is written over. Must not be here: what is
//! stated.

use super::super::output::Output;
use crate::language::canonical::sha256;
use crate::language::characters::shell_word;
use crate::record::review::beside::{folder, signature_file};
use crate::record::review::signature::{self, NAMESPACE, SignatureError};
use crate::record::review::statement::Statement;
use crate::seam::exit::Exit;
use crate::world::replace;
use std::path::{Path, PathBuf};

/// Signs a statement, if there is a key, and writes both. Gives the statement's file.
///
/// # Errors
/// The key is not taken, or the disk's reason; after it was told.
pub fn write(recipe: &Path, statement: &Statement, key: Option<&Path>, out: &mut Output) -> Result<PathBuf, Exit> {
    let text = statement.text().map_err(|error| told(&error.to_string(), out))?;
    // What can't be read again is not signed.
    Statement::parse(&text).map_err(|error| told(&error.to_string(), out))?;
    let moment: String = statement.at.chars().filter(char::is_ascii_alphanumeric).take(15).collect();
    let file = folder(recipe).join(format!("{moment}-{}.toml", &sha256(&text)[..8]));
    let signature = key.map(|key| signed(key, &text, out)).transpose()?;
    let failed = |path: &Path, error: &std::io::Error| format!("{} could not be written: {error}", path.display());
    std::fs::create_dir_all(folder(recipe)).map_err(|error| told(&failed(&folder(recipe), &error), out))?;
    if file.exists() {
        return Err(told(&format!("{} is there already", file.display()), out));
    }
    let mut put = |path: &Path, text: &str| {
        replace::replace(path, text.as_bytes()).map_err(|error| told(&failed(path, &error), out))
    };
    if let Some(signature) = &signature {
        put(&signature_file(&file), signature)?;
    }
    put(&file, &text)?;
    if signature.is_none() {
        out.message(&format!("It is not signed yet. {}", by_hand(&file)));
    }
    Ok(file)
}

fn by_hand(file: &Path) -> String {
    format!("Sign it: `ssh-keygen -Y sign -n {NAMESPACE} -f KEY {}`", shell_word(file))
}

fn signed(key: &Path, text: &str, out: &mut Output) -> Result<String, Exit> {
    let secret = crate::board::document::load::text(key).map_err(|error| told(&error.to_string(), out))?;
    signature::sign(&secret, text.as_bytes()).map_err(|error| {
        let hint = match error {
            SignatureError::Rsa => "make another key, and name it with --key",
            SignatureError::Passphrase => {
                "leave --key out: the statement is written, and `ssh-keygen -Y sign` signs it with your key or agent"
            }
            _ => "name a private key that `ssh-keygen` made",
        };
        out.error(&format!("{}: {error}", key.display()), Some(hint));
        Exit::Usage
    })
}

fn told(what: &str, out: &mut Output) -> Exit {
    out.error(what, None);
    Exit::Link
}
