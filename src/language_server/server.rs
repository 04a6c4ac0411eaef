//! The course of a session: from `initialize` to `exit`, a message at a time.
//!
//! Promises: findings are told once nothing more lies there to be read, so that fast typing is judged once, and at the
//! latest after a quarter of a second. Must not be here: what is answered (see `answers`).

use super::answers::{self, Refused, taken};
use super::buffers::Buffer;
use super::diagnostics::Published;
use super::frames::{self, Frame};
use super::positions::Encoding;
use super::workspace::{Setup, Workspace};
use lsp_types::{
    ClientCapabilities, DidChangeTextDocumentParams, DidChangeWatchedFilesParams, DidChangeWorkspaceFoldersParams,
    DidCloseTextDocumentParams, DidOpenTextDocumentParams, InitializeParams, WorkspaceFolder,
};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::io::{self, BufReader, Read, Write};
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// The longest that findings wait for typing to pause.
const LONGEST_WAIT: Duration = Duration::from_millis(250);

/// Where a session is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    Begun,
    Serving,
    ShutDown,
}

struct Server<'w, W: Write> {
    workspace: Workspace,
    client: ClientCapabilities,
    stage: Stage,
    published: Published,
    /// Texts that changed since findings were told, and since when.
    changed: BTreeSet<String>,
    since: Option<Instant>,
    output: &'w mut W,
}

/// Serves one client to the end of its input; whether it ended as the protocol asks, with `shutdown` and `exit`.
///
/// # Errors
/// The system's, on reading or writing.
pub fn serve(input: impl Read, output: &mut impl Write, setup: Setup) -> io::Result<bool> {
    let mut input = BufReader::with_capacity(1 << 16, input);
    let mut server = Server {
        workspace: Workspace::new(setup),
        client: ClientCapabilities::default(),
        stage: Stage::Begun,
        published: Published::default(),
        changed: BTreeSet::new(),
        since: None,
        output,
    };
    loop {
        if input.buffer().is_empty() || server.since.is_some_and(|since| since.elapsed() > LONGEST_WAIT) {
            server.publish()?;
        }
        match frames::read(&mut input)? {
            Frame::End => return Ok(false),
            Frame::Odd(why) => server.refuse(&Value::Null, &Refused::parse(why))?,
            Frame::Body(bytes) => {
                if server.message(&bytes)?.is_break() {
                    return Ok(server.stage == Stage::ShutDown);
                }
            }
        }
    }
}

type Flow = std::ops::ControlFlow<()>;

impl<W: Write> Server<'_, W> {
    fn message(&mut self, bytes: &[u8]) -> io::Result<Flow> {
        let go_on = Ok(Flow::Continue(()));
        let message: Value = match serde_json::from_slice(bytes) {
            Ok(message) => message,
            Err(error) => {
                self.refuse(&Value::Null, &Refused::parse(&error.to_string()))?;
                return go_on;
            }
        };
        let id = message.get("id").filter(|id| id.is_number() || id.is_string()).cloned();
        let Some(method) = message.get("method").and_then(Value::as_str) else {
            // An answer to what we asked has no method, and nothing waits for it.
            if message.get("result").is_none() && message.get("error").is_none() {
                self.refuse(&id.unwrap_or(Value::Null), &Refused::request("a message has a method"))?;
            }
            return go_on;
        };
        let params = message.get("params").cloned().unwrap_or(Value::Null);
        match (id, method) {
            (None, "exit") => return Ok(Flow::Break(())),
            (None, _) if message.get("id").is_some() => {
                self.refuse(&Value::Null, &Refused::request("an id is a number or a string"))?;
            }
            (None, _) if self.stage == Stage::Serving => self.notified(method, params)?,
            (None, _) => {}
            (Some(id), _) => match self.requested(method, params) {
                Ok(result) => self.send(&json!({ "jsonrpc": "2.0", "id": id, "result": result }))?,
                Err(refused) => self.refuse(&id, &refused)?,
            },
        }
        go_on
    }

    fn requested(&mut self, method: &str, params: Value) -> Result<Value, Refused> {
        match (self.stage, method) {
            (Stage::Begun, "initialize") => self.initialize(taken(params)?),
            (Stage::Begun, _) => Err(Refused::not_initialized()),
            (_, "initialize") => Err(Refused::request("this session was initialized already")),
            (Stage::ShutDown, _) => Err(Refused::request("this session was shut down")),
            (Stage::Serving, "shutdown") => {
                self.stage = Stage::ShutDown;
                Ok(Value::Null)
            }
            (Stage::Serving, _) => answers::answer(&self.workspace, &self.client, method, params),
        }
    }

    fn initialize(&mut self, params: InitializeParams) -> Result<Value, Refused> {
        self.client = params.capabilities;
        self.workspace.encoding = Encoding::chosen(&self.client);
        #[expect(deprecated, reason = "older clients name one folder only")]
        let root = params.root_uri;
        self.workspace.folders = match params.workspace_folders {
            Some(folders) if !folders.is_empty() => folders.iter().filter_map(path_of).collect(),
            _ => root.iter().filter_map(|uri| super::uri::path(uri.as_str())).collect(),
        };
        self.stage = Stage::Serving;
        answers::capabilities(self.workspace.encoding)
    }

    fn notified(&mut self, method: &str, params: Value) -> io::Result<()> {
        // What can't be read as its method's is left out: a notification has no answer.
        let done = match method {
            "initialized" => return self.watch_files(),
            "textDocument/didOpen" => taken(params).map(|params| self.open(params)),
            "textDocument/didChange" => taken(params).map(|params| self.change(params)),
            "textDocument/didClose" => taken(params).map(|params| self.close(&params)),
            "textDocument/didSave" => {
                self.workspace.forget(None);
                Ok(())
            }
            "workspace/didChangeWatchedFiles" => taken(params).map(|params: DidChangeWatchedFilesParams| {
                // A sheet stands behind every recipe.
                if !params.changes.is_empty() {
                    self.workspace.forget(None);
                }
            }),
            "workspace/didChangeWorkspaceFolders" => taken(params).map(|params| self.folders(&params)),
            _ => Ok(()),
        };
        if let Err(refused) = done {
            let message = format!("quadjig left out a message {method}: {}", refused.message);
            let params = json!({ "type": 2, "message": message });
            self.send(&json!({ "jsonrpc": "2.0", "method": "window/logMessage", "params": params }))?;
        }
        Ok(())
    }

    fn open(&mut self, params: DidOpenTextDocumentParams) {
        let document = params.text_document;
        let uri = document.uri.as_str().to_owned();
        let buffer = Buffer::new(uri.clone(), &document.language_id, document.version, &document.text);
        self.workspace.forget(Some(&buffer.path));
        self.workspace.buffers.insert(uri.clone(), buffer);
        self.touch(uri);
    }

    fn change(&mut self, params: DidChangeTextDocumentParams) {
        let uri = params.text_document.uri.as_str();
        let encoding = self.workspace.encoding;
        let Some(buffer) = self.workspace.buffers.get_mut(uri) else { return };
        buffer.change(params.text_document.version, params.content_changes, encoding);
        let path = buffer.path.clone();
        self.workspace.forget(Some(&path));
        self.touch(uri.to_owned());
    }

    fn close(&mut self, params: &DidCloseTextDocumentParams) {
        let uri = params.text_document.uri.as_str();
        if let Some(buffer) = self.workspace.buffers.remove(uri) {
            self.workspace.forget(Some(&buffer.path));
            self.changed.remove(uri);
            self.since.get_or_insert_with(Instant::now);
        }
    }

    fn folders(&mut self, params: &DidChangeWorkspaceFoldersParams) {
        let gone: Vec<PathBuf> = params.event.removed.iter().filter_map(path_of).collect();
        self.workspace.folders.retain(|folder| !gone.contains(folder));
        self.workspace.folders.extend(params.event.added.iter().filter_map(path_of));
        self.workspace.forget(None);
    }

    fn touch(&mut self, uri: String) {
        self.changed.insert(uri);
        self.since.get_or_insert_with(Instant::now);
    }

    /// Asks to be told of recipes and sheets that change on the disk, where the client can.
    fn watch_files(&mut self) -> io::Result<()> {
        let workspace = self.client.workspace.as_ref();
        let watched = workspace.and_then(|workspace| workspace.did_change_watched_files.as_ref());
        if watched.and_then(|watched| watched.dynamic_registration) != Some(true) {
            return Ok(());
        }
        let options = json!({ "watchers": [{ "globPattern": "**/*.jig" }, { "globPattern": "**/*.toml" }] });
        let one = json!({ "id": "files", "method": "workspace/didChangeWatchedFiles", "registerOptions": options });
        let params = json!({ "registrations": [one] });
        self.send(&json!({ "jsonrpc": "2.0", "id": "files", "method": "client/registerCapability", "params": params }))
    }

    /// Tells findings, where something changed.
    fn publish(&mut self) -> io::Result<()> {
        if self.since.take().is_none() && self.workspace.unjudged().is_empty() {
            return Ok(());
        }
        let changed = std::mem::take(&mut self.changed);
        for params in self.published.news(&self.workspace, &changed) {
            let method = "textDocument/publishDiagnostics";
            self.send(&json!({ "jsonrpc": "2.0", "method": method, "params": params }))?;
        }
        Ok(())
    }

    fn refuse(&mut self, id: &Value, refused: &Refused) -> io::Result<()> {
        let error = json!({ "code": refused.code, "message": refused.message });
        self.send(&json!({ "jsonrpc": "2.0", "id": id, "error": error }))
    }

    fn send(&mut self, message: &Value) -> io::Result<()> {
        frames::write(self.output, message)
    }
}

fn path_of(folder: &WorkspaceFolder) -> Option<PathBuf> {
    super::uri::path(folder.uri.as_str())
}
