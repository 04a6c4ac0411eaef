//! What each request is answered with, and what the server can do.
//!
//! Promises: a request that cannot be answered says why. Must not be here: how answers are found.

use super::buffers::Buffer;
use super::edits::{self, Edit};
use super::names::{Files, Symbol};
use super::positions::Encoding;
use super::workspace::Workspace;
use super::{actions, completion, hover, symbols};
use crate::language::format::format;
use lsp_types::{
    ClientCapabilities, CodeActionParams, CompletionParams, DocumentFormattingParams, DocumentHighlight,
    DocumentSymbolParams, GotoDefinitionParams, HoverParams, Location, ReferenceParams, RenameParams,
    SymbolInformation, TextDocumentPositionParams, TextEdit,
};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use std::path::Path;

/// Why a request is not answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// As JSON-RPC 2.0 and the protocol number it.
    pub code: i32,
    /// In words.
    pub message: String,
}

impl Refused {
    fn new(code: i32, message: &str) -> Self {
        Self { code, message: message.to_owned() }
    }

    /// No JSON.
    pub fn parse(why: &str) -> Self {
        Self::new(-32700, why)
    }

    /// No request, or none at this place.
    pub fn request(why: &str) -> Self {
        Self::new(-32600, why)
    }

    /// Parameters that are not the method's.
    pub fn params(why: &str) -> Self {
        Self::new(-32602, why)
    }

    /// Too early.
    pub fn not_initialized() -> Self {
        Self::new(-32002, "a session begins with `initialize`")
    }

    fn method(method: &str) -> Self {
        Self::new(-32601, &format!("there is no method {method} here"))
    }

    fn failed(why: &str) -> Self {
        Self::new(-32803, why)
    }
}

/// What the server can do, as `initialize` tells it.
pub fn capabilities(encoding: Encoding) -> Result<Value, Refused> {
    let kind = serde_json::to_value(encoding.kind()).map_err(|error| Refused::failed(&error.to_string()))?;
    Ok(json!({
        "serverInfo": { "name": "quadjig", "version": env!("CARGO_PKG_VERSION") },
        "capabilities": {
            "positionEncoding": kind,
            "textDocumentSync": { "openClose": true, "change": 2, "save": true },
            "completionProvider": { "triggerCharacters": [" ", "\"", ","] },
            "hoverProvider": true,
            "definitionProvider": true,
            "referencesProvider": true,
            "documentHighlightProvider": true,
            "documentSymbolProvider": true,
            "codeActionProvider": { "codeActionKinds": ["quickfix"] },
            "documentFormattingProvider": true,
            "renameProvider": { "prepareProvider": true },
            "workspace": { "workspaceFolders": { "supported": true, "changeNotifications": true } },
        },
    }))
}

/// The answer to a request.
///
/// # Errors
/// Why there is none.
pub fn answer(
    workspace: &Workspace,
    client: &ClientCapabilities,
    method: &str,
    params: Value,
) -> Result<Value, Refused> {
    match method {
        "textDocument/completion" => {
            let params: CompletionParams = taken(params)?;
            let (buffer, at) = place(workspace, &params.text_document_position)?;
            told(completion::items(workspace, buffer, at))
        }
        "textDocument/hover" => {
            let params: HoverParams = taken(params)?;
            let (buffer, at) = place(workspace, &params.text_document_position_params)?;
            let Some((text, bytes)) = hover::told(workspace, buffer, at) else { return Ok(Value::Null) };
            let range = buffer.lines(workspace.encoding).range(&bytes);
            told(json!({ "contents": { "kind": "markdown", "value": text }, "range": range }))
        }
        "textDocument/definition" => {
            let params: GotoDefinitionParams = taken(params)?;
            let (buffer, at) = place(workspace, &params.text_document_position_params)?;
            told(definition(workspace, buffer, at))
        }
        "textDocument/references" => {
            let params: ReferenceParams = taken(params)?;
            let (buffer, at) = place(workspace, &params.text_document_position)?;
            told(references(workspace, buffer, at, params.context.include_declaration))
        }
        "textDocument/documentHighlight" => {
            let params: TextDocumentPositionParams = taken(params)?;
            let (buffer, at) = place(workspace, &params)?;
            told(highlights(workspace, buffer, at))
        }
        "textDocument/prepareRename" => {
            let params: TextDocumentPositionParams = taken(params)?;
            let (buffer, at) = place(workspace, &params)?;
            match Files::around(workspace, buffer).symbol(&buffer.path, at) {
                None | Some((Symbol::File(_), _)) => Ok(Value::Null),
                Some((_, bytes)) => told(buffer.lines(workspace.encoding).range(&bytes)),
            }
        }
        "textDocument/rename" => {
            let params: RenameParams = taken(params)?;
            let (buffer, at) = place(workspace, &params.text_document_position)?;
            rename(workspace, client, buffer, at, &params.new_name)
        }
        "textDocument/documentSymbol" => {
            let params: DocumentSymbolParams = taken(params)?;
            outline(workspace, client, buffer(workspace, params.text_document.uri.as_str())?)
        }
        "textDocument/codeAction" => {
            let params: CodeActionParams = taken(params)?;
            let buffer = buffer(workspace, params.text_document.uri.as_str())?;
            told(actions::all(workspace, versioned(client), buffer, &params))
        }
        "textDocument/formatting" => {
            let params: DocumentFormattingParams = taken(params)?;
            let buffer = buffer(workspace, params.text_document.uri.as_str())?;
            // A recipe with errors is left as it is; what they are is told already.
            let Ok(new) = format(&buffer.text) else { return Ok(Value::Null) };
            let lines = buffer.lines(workspace.encoding);
            let edit = edits::difference(&buffer.text, &new);
            told(
                edit.into_iter()
                    .map(|(bytes, text)| TextEdit { range: lines.range(&bytes), new_text: text })
                    .collect::<Vec<_>>(),
            )
        }
        other => Err(Refused::method(other)),
    }
}

/// The parameters of a method.
pub fn taken<P: DeserializeOwned>(params: Value) -> Result<P, Refused> {
    serde_json::from_value(params).map_err(|error| Refused::params(&error.to_string()))
}

fn told(answer: impl Serialize) -> Result<Value, Refused> {
    serde_json::to_value(answer).map_err(|error| Refused::failed(&error.to_string()))
}

fn buffer<'d>(workspace: &'d Workspace, uri: &str) -> Result<&'d Buffer, Refused> {
    let open = workspace.buffers.get(uri).filter(|buffer| buffer.is_recipe);
    open.ok_or_else(|| Refused::params("no recipe of this name is open"))
}

fn place<'d>(workspace: &'d Workspace, params: &TextDocumentPositionParams) -> Result<(&'d Buffer, usize), Refused> {
    let buffer = buffer(workspace, params.text_document.uri.as_str())?;
    Ok((buffer, buffer.lines(workspace.encoding).offset(params.position)))
}

/// Whether the client takes changes with the version that they are for.
fn versioned(client: &ClientCapabilities) -> bool {
    let edit = client.workspace.as_ref().and_then(|workspace| workspace.workspace_edit.as_ref());
    edit.and_then(|edit| edit.document_changes) == Some(true)
}

fn definition(workspace: &Workspace, buffer: &Buffer, at: usize) -> Vec<Location> {
    let files = Files::around(workspace, buffer);
    let text = |path: &Path| files.text(path).unwrap_or_default();
    match files.symbol(&buffer.path, at) {
        None => Vec::new(),
        Some((Symbol::File(path), _)) => {
            let there = workspace.buffer_of(&path).is_some() || path.is_file();
            workspace.location(&path, text(&path), &(0..0)).into_iter().filter(|_| there).collect()
        }
        Some((symbol, _)) => {
            let places = files.places(&buffer.path, &symbol).into_iter().filter(|found| found.is_new);
            places.filter_map(|found| workspace.location(&found.path, text(&found.path), &found.range())).collect()
        }
    }
}

fn references(workspace: &Workspace, buffer: &Buffer, at: usize, declared: bool) -> Vec<Location> {
    let files = Files::around(workspace, buffer);
    let Some((symbol, _)) = files.symbol(&buffer.path, at) else { return Vec::new() };
    let places = files.places(&buffer.path, &symbol).into_iter().filter(|found| declared || !found.is_new);
    places
        .filter_map(|found| {
            let text = files.text(&found.path).unwrap_or_default();
            workspace.location(&found.path, text, &found.range())
        })
        .collect()
}

fn highlights(workspace: &Workspace, buffer: &Buffer, at: usize) -> Vec<DocumentHighlight> {
    let files = Files::of(buffer);
    let Some((symbol, _)) = files.symbol(&buffer.path, at) else { return Vec::new() };
    let lines = buffer.lines(workspace.encoding);
    let one = |bytes| DocumentHighlight { range: lines.range(&bytes), kind: None };
    files.places(&buffer.path, &symbol).iter().map(|found| one(found.range())).collect()
}

fn rename(
    workspace: &Workspace,
    client: &ClientCapabilities,
    buffer: &Buffer,
    at: usize,
    new: &str,
) -> Result<Value, Refused> {
    let files = Files::around(workspace, buffer);
    let Some((symbol, _)) = files.symbol(&buffer.path, at) else {
        return Err(Refused::failed("here stands no switch and no parameter"));
    };
    let edits: Vec<Edit> = files.rename(&buffer.path, &symbol, new, workspace).map_err(|why| Refused::failed(&why))?;
    edits::workspace(workspace, versioned(client), &edits, |path| files.text(path)).map_or(Ok(Value::Null), Ok)
}

fn outline(workspace: &Workspace, client: &ClientCapabilities, buffer: &Buffer) -> Result<Value, Refused> {
    let all = symbols::all(workspace, buffer);
    let document = client.text_document.as_ref().and_then(|document| document.document_symbol.as_ref());
    if document.and_then(|symbol| symbol.hierarchical_document_symbol_support) == Some(true) {
        return told(all);
    }
    let uri: lsp_types::Uri = buffer.uri.parse().map_err(|_| Refused::params("this is no URI"))?;
    let flat = |symbol: lsp_types::DocumentSymbol| {
        #[expect(deprecated, reason = "the field has to be named, and is left empty")]
        SymbolInformation {
            name: symbol.name,
            kind: symbol.kind,
            tags: None,
            deprecated: None,
            location: Location { uri: uri.clone(), range: symbol.range },
            container_name: None,
        }
    };
    told(all.into_iter().map(flat).collect::<Vec<_>>())
}
