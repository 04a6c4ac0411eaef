"""An editor's side of the language server, by the client of a library that nobody here wrote (pygls, lsprotocol).

editor.py BINARY SCENE: plays one scene against the real program over its standard input and output, and ends with 0 if
all is as it has to be. What is expected is worked out here anew: columns from the text, findings from `check`, changes
from `dry-run`.
"""

import asyncio
import json
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from lsprotocol import types as lsp
from pygls.lsp.client import LanguageClient

BINARY = sys.argv[1]
HEAD = 'recipe "Wren 95, bench"\nedition 1\ncraft quad x\nboard "Finch"\n'
WAIT = 60


class Editor(LanguageClient):
    """A client that keeps what it is told."""

    def __init__(self):
        super().__init__("editor", "1")
        self.told = asyncio.Queue()
        self.findings = {}
        self.versions = {}

        @self.feature(lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)
        def published(params):
            self.findings[params.uri] = params.diagnostics
            self.versions[params.uri] = params.version
            self.told.put_nowait(params.uri)

        @self.feature(lsp.CLIENT_REGISTER_CAPABILITY)
        def registered(params):
            self.registered = params.registrations

    async def begin(self, folder, *options, encodings=None, versioned=False, nested=True):
        await self.start_io(BINARY, "language-server", *options)
        capabilities = lsp.ClientCapabilities(
            general=lsp.GeneralClientCapabilities(position_encodings=encodings),
            workspace=lsp.WorkspaceClientCapabilities(
                workspace_edit=lsp.WorkspaceEditClientCapabilities(document_changes=versioned),
                did_change_watched_files=lsp.DidChangeWatchedFilesClientCapabilities(dynamic_registration=True),
            ),
            text_document=lsp.TextDocumentClientCapabilities(
                document_symbol=lsp.DocumentSymbolClientCapabilities(hierarchical_document_symbol_support=nested)
            ),
        )
        folders = [lsp.WorkspaceFolder(uri=folder.as_uri(), name="bench")]
        self.offer = await self.initialize_async(
            lsp.InitializeParams(capabilities=capabilities, workspace_folders=folders)
        )
        self.initialized(lsp.InitializedParams())
        return self

    def open(self, path, text=None, language="jig"):
        text = path.read_text() if text is None else text
        item = lsp.TextDocumentItem(uri=path.as_uri(), language_id=language, version=1, text=text)
        self.text_document_did_open(lsp.DidOpenTextDocumentParams(text_document=item))

    def type(self, path, version, *changes):
        self.text_document_did_change(
            lsp.DidChangeTextDocumentParams(
                text_document=lsp.VersionedTextDocumentIdentifier(uri=path.as_uri(), version=version),
                content_changes=[
                    lsp.TextDocumentContentChangePartial(range=r, text=t) if r else lsp.TextDocumentContentChangeWholeDocument(text=t)
                    for r, t in changes
                ],
            )
        )

    async def heard(self, path, version=None):
        """The findings of a file once they are told, of this version where one is named."""
        uri = path.as_uri()
        while True:
            if await asyncio.wait_for(self.told.get(), WAIT) == uri and version in (None, self.versions[uri]):
                return self.findings[uri]

    async def close(self):
        await asyncio.wait_for(self.shutdown_async(None), WAIT)
        self.exit(None)
        code = await asyncio.wait_for(self._server.wait(), WAIT)
        assert code == 0, code


def named(path):
    return lsp.TextDocumentIdentifier(uri=path.as_uri())


def position(text, offset, encoding="utf-16"):
    """The position of a character of a text, columns counted in units of the encoding."""
    before = text[:offset]
    line = before.count("\n")
    last = before[before.rfind("\n") + 1 :]
    width = {"utf-8": lambda t: len(t.encode()), "utf-16": lambda t: len(t.encode("utf-16-le")) // 2, "utf-32": len}
    return lsp.Position(line=line, character=width[encoding](last))


def at(text, what, behind=0, encoding="utf-16"):
    """The position of the first place of some words, so many characters in."""
    return position(text, text.index(what) + behind, encoding)


def span(text, what, encoding="utf-16"):
    start = text.index(what)
    return lsp.Range(start=position(text, start, encoding), end=position(text, start + len(what), encoding))


def applied(text, edits):
    """A text with edits done, the last first; columns are UTF-16."""
    lines = text.split("\n")

    def offset(place):
        line = lines[place.line].encode("utf-16-le")[: place.character * 2].decode("utf-16-le")
        return sum(len(l) + 1 for l in lines[: place.line]) + len(line)

    for edit in sorted(edits, key=lambda e: (e.range.start.line, e.range.start.character), reverse=True):
        text = text[: offset(edit.range.start)] + edit.new_text + text[offset(edit.range.end) :]
    return text


def quadjig(*arguments):
    """What a command says as JSON; findings are no failure here."""
    done = subprocess.run([BINARY, *arguments], capture_output=True, text=True, check=False)
    return json.loads(done.stdout)


def checked(path):
    """What `check` says of a file: line, column, code, whether it is an error."""
    found = quadjig("check", "--format", "json", str(path))["findings"]
    return sorted((f["at"]["line"], f["at"]["column"], f["code"], f["severity"]) for f in found)


SEVERITIES = {1: "error", 2: "warning", 4: "hint"}


def as_checked(text, diagnostics):
    """Diagnostics in the terms of `check`, whose columns count characters from 1."""
    lines = text.split("\n")
    characters = lambda p: len(lines[p.line].encode("utf-16-le")[: p.character * 2].decode("utf-16-le")) + 1
    return sorted(
        (d.range.start.line + 1, characters(d.range.start), d.code, SEVERITIES[d.severity]) for d in diagnostics
    )


async def findings(folder):
    """What is told while typing is what `check` says of the same text, warnings of the sheet among it."""
    path = folder / "wren.jig"
    editor = await Editor().begin(folder)
    texts = [
        HEAD + "bind arm to switch B position 2\n",
        HEAD + "require propz off\nswitch B on channel 6 rests at 1000, 1500, 2000\nbind arm to switch B position 0\n",
        # Beyond the plane of two bytes, before what is wrong.
        HEAD + 'note "𝛼𝛽 µs"\nnote "𝛼" "twice"\nset loop-rate to 9000 kHz\nidle at 1900\n',
        HEAD + "receiver morse on port 2\nbind disco to switch B position 1\n",
        'recipe "nothing',
        "",
    ]
    path.write_text("")
    editor.open(path, "")
    assert as_checked("", await editor.heard(path)) == checked(path)
    for version, text in enumerate(texts, 2):
        path.write_text(text)
        editor.type(path, version, (None, text))
        told = as_checked(text, await editor.heard(path, version))
        assert told == checked(path), (text, told, checked(path))
        assert told, text
    # Where no line of ours would say so, the words are those of the finding, with what to do.
    editor.type(path, 20, (None, texts[1]))
    words = [d.message for d in await editor.heard(path, 20)]
    assert any("did you mean" in w or "\ndo: " in w for w in words), words
    # Letter by letter, at positions of the client's own.
    text = HEAD
    editor.type(path, 21, (None, text))
    await editor.heard(path, 21)
    version = 21
    for letter in "note \"𝛼\" # ready\nkeep\n":
        version += 1
        here = position(text, len(text))
        editor.type(path, version, (lsp.Range(start=here, end=here), letter))
        text += letter
    path.write_text(text)
    assert as_checked(text, await editor.heard(path, version)) == checked(path)
    await editor.close()


async def documents(folder):
    """What is told of a sheet or a card while it is written is what `check` says of the file."""
    root = Path(__file__).parents[2] / "recipes"
    editor = await Editor().begin(folder)
    for kind, name in [("boards", "finch"), ("radios", "bench")]:
        good = (root / kind / f"{name}.toml").read_text()
        texts = [
            good.replace("edition = 1", "edition = 7").replace("channel", "chanel", 1),
            "# 𝛼\n" + good + '\nodd = "𝛼" twice\n',
            good,
        ]
        path = folder / f"{name}.toml"
        path.write_text(texts[0])
        editor.open(path, language="toml")
        for version, text in enumerate(texts, 1):
            path.write_text(text)
            if version > 1:
                editor.type(path, version, (None, text))
            told = as_checked(text, await editor.heard(path, version))
            assert told == checked(path), (text, told, checked(path))
            assert bool(told) == (text != good), told
    await editor.close()


async def fixes(folder):
    """Fixes that findings carry mend the recipe, one after the other."""
    path = folder / "wren.jig"
    for versioned in (False, True):
        text = HEAD + "require props of\nswitch B on channel 6 rests at 1000, 1500, 2000\nbnd arm to switch B position 2\nkepe\ntest arm\n"
        editor = await Editor().begin(folder, versioned=versioned)
        editor.open(path, text)
        version = 1
        for _ in range(6):
            errors = [d for d in await editor.heard(path, version) if d.severity == 1]
            if not errors:
                break
            actions = await editor.text_document_code_action_async(
                lsp.CodeActionParams(
                    text_document=named(path), range=errors[0].range, context=lsp.CodeActionContext(diagnostics=errors[:1])
                )
            )
            assert actions, errors[0]
            assert actions[0].kind == "quickfix" and actions[0].diagnostics[0].code == errors[0].code, actions[0]
            if versioned:
                change = actions[0].edit.document_changes[0]
                assert change.text_document.version == version, change
                edits = change.edits
            else:
                edits = actions[0].edit.changes[path.as_uri()]
            text = applied(text, edits)
            version += 1
            editor.type(path, version, (None, text))
        assert not errors, (text, errors)
        assert "require props off\n" in text and "\nbind arm" in text and "\nkeep\n" in text, text
        none = await editor.text_document_code_action_async(
            lsp.CodeActionParams(
                text_document=named(path),
                range=span(text, "keep"),
                context=lsp.CodeActionContext(diagnostics=[], only=["refactor"]),
            )
        )
        assert not none, none
        await editor.close()


async def offered(editor, path, version, text):
    """What is offered at the mark `|` of a text, and the text with each taken."""
    mark = text.index("|")
    text = text.replace("|", "", 1)
    editor.type(path, version, (None, text))
    items = await editor.text_document_completion_async(
        lsp.CompletionParams(text_document=named(path), position=position(text, mark))
    )
    return {item.label: applied(text, [item.text_edit]) for item in items}


async def completion(folder):
    """Words of the grammar, the sheet, the card and the recipe itself, each put where it belongs."""
    path = folder / "wren.jig"
    (folder / "common").mkdir()
    (folder / "common/receiver.jig").write_text(HEAD + "given idle-floor default 1100 us\nidle at idle-floor\n")
    editor = await Editor().begin(folder, "--radio", "bench")
    editor.open(path, "")
    version = 1

    async def at_mark(text):
        nonlocal version
        version += 1
        return await offered(editor, path, version, text)

    starts = await at_mark("|")
    for word in ("recipe", "edition", "craft", "board", "given", "use", "bind", "test", "keep"):
        assert word in starts, (word, starts)
    assert "board \"Finch R\"" in (await at_mark('board "Fin|"'))['"Finch R"'], "the quote that stands there is kept"
    assert 'board "Finch"\n' in (await at_mark("board |\n"))['"Finch"']
    found = await at_mark(HEAD + "note \"𝛼\"\nreq|")
    assert found["require"].endswith("\nrequire"), found
    found = await at_mark(HEAD + "switch Q on channel 6 rests at 1000, 2000\nbind buz|")
    assert list(found) == ["buzzer"], found
    found = await at_mark(HEAD + "switch Q on channel 6 rests at 1000, 2000\nbind arm to switch Q position |")
    assert list(found) == ["0", "1"], found
    found = await at_mark(HEAD + "bind arm to switch |")
    assert "B" in found and "C" in found, found  # of the radio card
    found = await at_mark(HEAD + "given lowest default 1100 us\nidle at low|")
    assert list(found) == ["lowest"], found
    found = await at_mark(HEAD + "set |")
    assert "loop-rate" in found, found
    found = await at_mark(HEAD + "receiver |")
    assert "crsf" in found, found
    found = await at_mark(HEAD + 'use "|')
    assert list(found) == ['"common/receiver.jig"'], found
    found = await at_mark(HEAD + 'use "common/receiver.jig" with |')
    assert list(found) == ["idle-floor"], found
    found = await at_mark(HEAD + 'given side switch default B\nbind arm to switch si|')
    assert list(found) == ["side"], found
    # A statement that goes on in another line, and none in a comment.
    assert "throttle" in await at_mark(HEAD + "channels roll, pitch, # sticks\n    |")
    assert await at_mark(HEAD + "keep # ke|") == {}
    assert await at_mark(HEAD + "# ke|") == {}
    await editor.close()


async def told_at(editor, path, text, what, behind=0):
    hover = await editor.text_document_hover_async(
        lsp.HoverParams(text_document=named(path), position=at(text, what, behind))
    )
    return hover and hover.contents.value


async def hover(folder):
    """What a word means, and what the sheet says of it."""
    path = folder / "wren.jig"
    text = (
        HEAD
        + 'given lowest default 1100 us from 1050 us to 1150 us "lowest idle"\n'
        + "given link one of crsf, sbus default crsf\n"
        + "require props off\nswitch B on channel 6 rests at 1000, 1500, 2000 on link loss 1000\n"
        + "bind arm to switch B position 2\nidle at lowest\nset loop-rate to 4 kHz\nreceiver crsf on port 2\n"
        + 'set "ROTOR_TRIM" to 3\ntest sticks\nbind disco to switch B position 1\n'
    )
    editor = await Editor().begin(folder)
    editor.open(path, text)
    said = lambda what, behind=0: told_at(editor, path, text, what, behind)
    sheet = (Path(__file__).parents[2] / "recipes/boards/finch.toml").read_text()
    board_name = lambda word: sheet[sheet.index(f"[settings.{word}]") :].split('name = "', 1)[1].split('"')[0]

    told = await said("require props")
    assert "A condition that holds, or the run stops here." in told and "```jig\nrequire" in told, told
    told = await said("set loop-rate", 6)
    assert f"`{board_name('loop-rate')}`" in told and "**Finch**" in told, told
    told = await said("idle at lowest", 1)
    assert f"`{board_name('idle')}`" in told and "can turn a motor" in told, told
    told = await said("idle at lowest", 9)
    assert "Parameter `lowest`: lowest idle. From 1050 us to 1150 us. It stands at its default, 1100 us." in told, told
    told = await said("bind arm to switch B", 19)
    assert "Switch `B` on channel 6, rests at 1000 us, 1500 us, 2000 us, on link loss at 1000 us" in told, told
    assert "`arm` is on in position 2" in told, told
    told = await said("given link", 7)
    assert "Parameter `link`. One of `crsf`, `sbus`. It stands at its default, crsf." in told, told
    told = await said("bind arm", 5)
    assert "is bound by" in told and "ARM" in told, told
    told = await said("bind disco", 6)
    assert "has no function `disco`" in told, told
    told = await said("receiver crsf", 10)
    assert "listens to `crsf`" in told, told
    told = await said("board", 7)
    assert "**Finch**" in told and "4 motors" in told, told
    told = await said("test sticks", 6)
    assert "```jig\ntest sticks [centre" in told, told
    assert await editor.text_document_hover_async(
        lsp.HoverParams(text_document=named(path), position=lsp.Position(line=400, character=9))
    ) is None
    await editor.close()


async def against(folder):
    """A statement tells what it would change against the last snapshot of the craft: what `dry-run --against` says."""
    path = folder / "wren.jig"
    craft = folder / "crafts/7669727400000001/snapshots"
    craft.mkdir(parents=True)
    newest = craft / "20260301T101500Z.json"
    subprocess.run([BINARY, "snapshot", "--port", "virtual", "--output", str(newest)], check=True, capture_output=True)
    old = json.loads(newest.read_text())
    old["settings"] = {name: 0 for name in old["settings"]}
    (craft / "20260101T101500Z.json").write_text(json.dumps(old))
    text = HEAD.replace("bench", "arm switch") + (
        "require battery out\nrequire props off\nswitch B on channel 6 rests at 1000, 1500, 2000 on link loss 1000\n"
        "switch C on channel 7 rests at 1000, 2000 on link loss 1000\n"
        "bind arm to switch B position 2\nbind buzzer to switch C position 1\nkeep\ntest arm\ntest buzzer\n"
    )
    path.write_text(text)
    records = ["--records", str(folder / "crafts")]
    plan = quadjig("dry-run", "--format", "json", str(path), "--against", str(newest), *records)
    assert plan["changes"], plan
    for options, title in (([*records, "--craft", "7669727400000001"], "7669727400000001"), (records, None)):
        editor = await Editor().begin(folder, *options)
        editor.open(path, text)
        for number, line in enumerate(text.split("\n"), 1):
            if not line.startswith("bind"):
                continue
            told = await told_at(editor, path, text, line)
            if title is None:
                assert "Against" not in told, told
                continue
            assert "Against `20260301T101500Z.json` of `7669727400000001` (VIRTUAL): it would change" in told, told
            wanted = [c for c in plan["changes"] if c["at"]["line"] == number]
            assert wanted, plan
            for change in wanted:
                assert f"`{change['setting']}` (`{change['on_board']}`): " in told, (change, told)
            assert told.count(" → ") == len(wanted), (wanted, told)
        await editor.close()
    editor = await Editor().begin(folder, *records, "--craft", "nobody")
    editor.open(path, text)
    told = await told_at(editor, path, text, "bind buzzer")
    assert "there is no record of a craft called nobody" in told, told
    await editor.close()
    # A craft that was given a name, or typed one, is the one that the title begins with.
    subprocess.run([BINARY, "craft", "name", "7669727400000001", "Wren 95", *records], check=True, capture_output=True)
    editor = await Editor().begin(folder, *records)
    editor.open(path, text)
    told = await told_at(editor, path, text, "bind buzzer")
    assert "Against `20260301T101500Z.json`" in told and " → " in told, told
    await editor.close()
    by_name = folder / "crafts/named-wren-95/snapshots"
    by_name.mkdir(parents=True)
    (by_name / newest.name).write_text(newest.read_text())
    editor = await Editor().begin(folder, *records)
    editor.open(path, text)
    told = await told_at(editor, path, text, "bind buzzer")
    assert "Against `20260301T101500Z.json`" in told and " → " in told, told
    # A craft of another kind, and what is there already.
    text = text.replace('"Finch"', '"Finch R"')
    editor.type(path, 2, (None, text))
    told = await told_at(editor, path, text, "bind buzzer")
    assert "no sheet is for this board" in told, told
    await editor.close()


async def names(folder):
    """Definitions, references and renaming over the files of a recipe."""
    path, used, other = folder / "wren.jig", folder / "common/radio.jig", folder / "other.jig"
    used.parent.mkdir()
    radio = (
        HEAD + "given floor default 1100 us\ngiven side switch default left-rear\n"
        "switch left-rear on channel 6 rests at 1000, 1500, 2000 on link loss 1000\n"
        "require props off\nidle at floor\nbind buzzer to switch side position 1\ntest buzzer\n"
    )
    text = HEAD + 'given lowest default 1120 us\nuse "common/radio.jig" with floor lowest, side left-rear\nnote "𝛼"; \n'
    text = text.replace("; ", "") + "bind arm to switch left-rear position 2\nkeep\ntest arm\n"
    used.write_text(radio)
    path.write_text(text)
    other.write_text(HEAD + 'use "common/radio.jig"\nbind lights to switch left-rear position 1\n')
    (folder / "apart.jig").write_text(HEAD + "switch left-rear on channel 8 rests at 1000, 2000\n")
    editor = await Editor().begin(folder)
    editor.open(path)

    async def defined(what, behind):
        found = await editor.text_document_definition_async(
            lsp.DefinitionParams(text_document=named(path), position=at(text, what, behind))
        )
        return [(f.uri, f.range) for f in found]

    declared = radio.index("switch left-rear on") + 7
    declared = lsp.Range(start=position(radio, declared), end=position(radio, declared + 9))
    assert await defined("switch left-rear", 8) == [(used.as_uri(), declared)]
    assert await defined("side left-rear", 6) == [(used.as_uri(), declared)], "the value of a switch's parameter is a switch"
    assert await defined("side left-rear", 1) == [(used.as_uri(), span(radio, "side"))]
    assert await defined("with floor", 6) == [(used.as_uri(), span(radio, "floor"))]
    assert await defined("floor lowest", 7) == [(path.as_uri(), span(text, "lowest"))]
    start = lsp.Position(line=0, character=0)
    assert await defined("common/radio", 3) == [(used.as_uri(), lsp.Range(start=start, end=start))]
    assert await defined("keep", 1) == []

    found = await editor.text_document_references_async(
        lsp.ReferenceParams(
            text_document=named(path),
            position=at(text, "switch left-rear", 8),
            context=lsp.ReferenceContext(include_declaration=True),
        )
    )
    assert {f.uri for f in found} == {path.as_uri(), used.as_uri(), other.as_uri()}, found
    assert len(found) == 5, found
    found = await editor.text_document_references_async(
        lsp.ReferenceParams(
            text_document=named(path),
            position=at(text, "floor lowest", 7),
            context=lsp.ReferenceContext(include_declaration=False),
        )
    )
    place = text.index("floor lowest") + 6
    assert [(f.uri, f.range.start) for f in found] == [(path.as_uri(), position(text, place))], found
    lit = await editor.text_document_document_highlight_async(
        lsp.DocumentHighlightParams(text_document=named(path), position=at(text, "floor lowest", 7))
    )
    assert len(lit) == 2, lit

    async def renamed(what, behind, new):
        where = at(text, what, behind)
        prepared = await editor.text_document_prepare_rename_async(
            lsp.PrepareRenameParams(text_document=named(path), position=where)
        )
        edit = await editor.text_document_rename_async(
            lsp.RenameParams(text_document=named(path), position=where, new_name=new)
        )
        return prepared, edit.changes

    async def refused(what, behind, new, why):
        try:
            await renamed(what, behind, new)
        except Exception as error:
            assert why in str(error), error
        else:
            raise AssertionError(f"{new} was taken")

    prepared, changes = await renamed("switch left-rear", 8, "Q")
    assert prepared.start == at(text, "switch left-rear", 7), prepared
    assert set(changes) == {path.as_uri(), used.as_uri(), other.as_uri()}, changes
    before = {p: checked(p) for p in (path, other)}
    for file in (path, used, other):
        file.write_text(applied(file.read_text(), changes[file.as_uri()]))
    assert "left-rear" not in path.read_text() + used.read_text() + other.read_text()
    assert {p: [f[2] for f in checked(p)] for p in before} == {p: [f[2] for f in before[p]] for p in before}
    path.write_text(text)
    used.write_text(radio)

    _, changes = await renamed("side left-rear", 1, "flank")
    new = applied(radio, changes[used.as_uri()])
    assert "given flank switch" in new and "switch flank position" in new and "side" not in new, new
    _, changes = await renamed("with floor", 6, "ground")
    assert set(changes) == {path.as_uri(), used.as_uri()}, changes
    new = applied(radio, changes[used.as_uri()])
    assert "given ground" in new and "idle at ground" in new and "floor" not in new, new
    assert "with ground lowest," in applied(text, changes[path.as_uri()])
    await refused("switch left-rear", 8, "no name", "can't be called")
    await refused("floor lowest", 7, "keep", "can't be called")
    await refused("floor lowest", 7, "us", "can't be called")
    await refused("keep", 1, "hold", "no switch and no parameter")
    editor.type(path, 2, (None, text + "bind lights to swich left-rear positions 1\n"))
    await refused("switch left-rear", 8, "Q", "cannot be read")
    await editor.close()


async def layout(folder):
    """The one layout, and as little changed for it as possible; a recipe with errors is left alone."""
    path = folder / "wren.jig"
    text = HEAD + 'note   "𝛼"   # first\nkeep\n\n\n\n  note "two"\ntest   arm\nkeep\n'
    path.write_text(text)
    editor = await Editor().begin(folder)
    editor.open(path)
    options = lsp.FormattingOptions(tab_size=4, insert_spaces=True)

    async def formatted():
        return await editor.text_document_formatting_async(
            lsp.DocumentFormattingParams(text_document=named(path), options=options)
        )

    edits = await formatted()
    subprocess.run([BINARY, "format", str(path)], check=True, capture_output=True)
    assert applied(text, edits) == path.read_text()
    assert all(edit.range.start.line >= 4 for edit in edits), edits
    editor.type(path, 2, (None, path.read_text()))
    assert list(await formatted()) == []
    editor.type(path, 3, (None, text + "test  airm\n"))
    assert await formatted() is None
    await editor.close()


async def outline(folder):
    """Every statement has its place in the outline."""
    path = folder / "wren.jig"
    text = HEAD + "given lowest default 1100 us\nswitch B on channel 6,\n    rests at 1000, 2000\nbnd arm\nkeep\n"
    for nested in (True, False):
        editor = await Editor().begin(folder, nested=nested)
        editor.open(path, text)
        found = await editor.text_document_document_symbol_async(lsp.DocumentSymbolParams(text_document=named(path)))
        assert [s.name for s in found] == [
            'recipe "Wren 95, bench"',
            "edition 1",
            "craft quad x",
            'board "Finch"',
            "given lowest default 1100 us",
            "switch B on channel 6, rests at 1000, 2000",
            "bnd arm",
            "keep",
        ], found
        if nested:
            assert found[4].selection_range == span(text, "lowest"), found[4]
            assert found[5].range.end == at(text, "bnd", -1), found[5]
        else:
            assert found[7].location.range == span(text, "keep"), found[7]
        await editor.close()


async def encodings(folder):
    """Columns count what was agreed on: UTF-8 where it is offered, else UTF-16."""
    path = folder / "wren.jig"
    text = HEAD + 'note "𝛼µ" "twice"\n'
    offers = [
        (None, "utf-16"),
        (["utf-16"], "utf-16"),
        (["utf-16", "utf-8"], "utf-8"),
        (["utf-32", "utf-16"], "utf-16"),
        (["utf-32"], "utf-32"),
    ]
    for offered_here, chosen in offers:
        editor = await Editor().begin(folder, encodings=offered_here)
        assert editor.offer.capabilities.position_encoding == chosen, editor.offer
        editor.open(path, text)
        wanted = at(text, '"twice"', encoding=chosen)
        assert any(d.range.start == wanted for d in await editor.heard(path)), (chosen, editor.findings)
        # The same place from the other side: the second text goes away, and with it what was wrong there.
        gone = lsp.Range(start=position(text, text.index(' "twice"'), chosen), end=at(text, '"twice"', 7, chosen))
        editor.type(path, 2, (gone, ""))
        assert not any(d.severity == 1 for d in await editor.heard(path, 2)), editor.findings
        await editor.close()


async def files(folder):
    """Used files in buffers and on the disk, vanished ones, and findings that go where they belong."""
    path, used = folder / "wren.jig", folder / "radio.jig"
    text = HEAD + 'use "radio.jig"\nkeep\n'
    used.write_text(HEAD + "receiver morse on port 2\n")
    editor = await Editor().begin(folder)
    editor.open(path, text)
    assert any(d.code == "BV1" for d in await editor.heard(used)), "what a used file has wrong is told in it"
    assert editor.registered[0].method == "workspace/didChangeWatchedFiles", editor.registered
    # The buffer counts, not the disk.
    editor.open(used, HEAD + "receiver crsf on port 2\n")
    assert not any(d.code == "BV1" for d in await editor.heard(used))
    used.unlink()
    editor.type(path, 2, (None, text + "# on\n"))
    assert not any(d.severity == 1 for d in await editor.heard(path, 2)), editor.findings
    # Closed and gone: the using file says so, and the used one is cleared.
    editor.text_document_did_close(lsp.DidCloseTextDocumentParams(text_document=named(used)))
    assert any("cannot be read" in d.message for d in await editor.heard(path)), editor.findings
    assert not editor.findings[used.as_uri()], editor.findings
    # There again, and the client says so.
    used.write_text(HEAD + "receiver crsf on port 2\n")
    editor.workspace_did_change_watched_files(
        lsp.DidChangeWatchedFilesParams(changes=[lsp.FileEvent(uri=used.as_uri(), type=lsp.FileChangeType.Created)])
    )
    assert not any(d.severity == 1 for d in await editor.heard(path)), editor.findings
    # The recipe itself vanishes; its buffer goes on.
    editor.type(path, 3, (None, text.replace("keep", "kepe")))
    assert any(d.severity == 1 for d in await editor.heard(path, 3))
    # A sheet of one's own, beside the recipe.
    sheet = (Path(__file__).parents[2] / "recipes/boards/finch.toml").read_text()
    (folder / "boards").mkdir()
    (folder / "boards/wagtail.toml").write_text(sheet.replace('board = "Finch"', 'board = "Wagtail"', 1))
    text = HEAD.replace("Finch", "Wagtail") + "receiver morse on port 2\nkeep\n"
    path.write_text(text)
    editor.type(path, 4, (None, text))
    told = as_checked(text, await editor.heard(path, 4))
    assert told == checked(path), (told, checked(path))
    assert any(f[2] == "BV1" for f in told), told
    # A recipe below the root uses one beside, once the root is marked.
    deep = folder / "deep/wren.jig"
    deep.parent.mkdir()
    deep.write_text(HEAD + 'use "../radio.jig"\n')
    editor.open(deep)
    told = as_checked(deep.read_text(), await editor.heard(deep))
    assert told == checked(deep) and any(f[3] == "error" for f in told), (told, checked(deep))
    mark = folder / "quadjig.toml"
    mark.write_text("edition = 1\n")
    editor.workspace_did_change_watched_files(
        lsp.DidChangeWatchedFilesParams(changes=[lsp.FileEvent(uri=mark.as_uri(), type=lsp.FileChangeType.Created)])
    )
    told = as_checked(deep.read_text(), await editor.heard(deep))
    assert told == checked(deep) and not any(f[3] == "error" for f in told), (told, checked(deep))
    # A recipe that is no file yet.
    unsaved = lsp.TextDocumentItem(uri="untitled:Untitled-1", language_id="jig", version=1, text=HEAD + 'use "radio.jig"\n')
    editor.text_document_did_open(lsp.DidOpenTextDocumentParams(text_document=unsaved))
    while await asyncio.wait_for(editor.told.get(), WAIT) != "untitled:Untitled-1":
        pass
    assert any("save it first" in d.message for d in editor.findings["untitled:Untitled-1"]), editor.findings
    await editor.close()


async def two(folder):
    """Two clients with other texts of one file: each hears of its own."""
    path = folder / "wren.jig"
    path.write_text(HEAD)
    one, other = await Editor().begin(folder), await Editor().begin(folder)
    one.open(path, HEAD + "keep\n")
    other.open(path, HEAD + "kepe\n")
    assert not any(d.severity == 1 for d in await one.heard(path))
    assert any(d.severity == 1 for d in await other.heard(path))
    await one.close()
    other.type(path, 2, (None, HEAD + "keep\n"))
    assert not any(d.severity == 1 for d in await other.heard(path, 2))
    await other.close()


def scopes(line, grammar):
    """The scope of each character of a line, as TextMate reads a grammar: the leftmost match wins, then the first rule."""
    found, inside, at = [""] * len(line), None, 0
    while at < len(line):
        rules = inside["patterns"] if inside else grammar["patterns"]
        tries = [(re.compile(inside["end"]), None)] if inside else []
        tries += [(re.compile(rule.get("match") or rule["begin"]), rule) for rule in rules]
        hits = [(hit.start(), number, hit, rule) for number, (tried, rule) in enumerate(tries) if (hit := tried.search(line, at))]
        if not hits:
            break
        start, _, hit, rule = min(hits, key=lambda hit: hit[:2])
        if inside:
            found[at:start] = [inside["name"]] * (start - at)
        name = inside["name"] if rule is None else rule.get("name", "")
        found[start : hit.end()] = [name] * (hit.end() - start)
        for group, capture in (rule or {}).get("captures", {}).items():
            begin, end = hit.span(int(group))
            found[max(begin, 0) : max(end, 0)] = [capture["name"]] * (end - begin)
        inside = rule if rule and "begin" in rule else None if rule is None else inside
        at = max(hit.end(), at + (hit.end() == start))
    return found


async def colours(_):
    """Every word of every example of the language has its scope, by Python's own regular expressions."""
    root = Path(__file__).parents[2] / "grammar"
    grammar = json.loads((root / "editors/jig.tmLanguage.json").read_text())
    language = (root / "edition_1.pest").read_text()
    reserved = set(re.findall(r"kw_(\w+)", language.split("reserved = _{")[1]))
    examples = [line[7:] for line in language.splitlines() if line.startswith("//     ")]
    assert len(examples) > 50 and len(reserved) > 90
    seen = set()
    for example in [*examples, "idle at -3.5 µs # at 5 us", "bind self-level to switch at-2 position 1", 'note "at 5 # \\" us"']:
        of = scopes(example, grammar)
        behind_number = False
        for hit in re.finditer(r'"(?:[^"\\]|\\.)*"|#.*|-?\d+(?:\.\d+)?(?![\w-])|V per cell|%|[\w-]+', example):
            word, scope = hit.group(), {*of[hit.start() : hit.end()]}
            if word.startswith('"'):
                wanted = {"string.quoted.double.jig"} | ({"constant.character.escape.jig"} if "\\" in word else set())
            elif word.startswith("#"):
                wanted = {"comment.line.number-sign.jig"}
            elif re.fullmatch(r"-?\d+(\.\d+)?", word):
                wanted = {"constant.numeric.jig"}
            elif behind_number and word in ("us", "µs", "ms", "s", "deg", "kHz", "V per cell", "%"):
                wanted = {"keyword.other.unit.jig"}
            elif word in reserved:
                wanted = {"keyword.control.jig" if hit.start() == 0 else "keyword.other.jig"}
            else:
                wanted = {""}
            assert scope == wanted, (example, word, scope, wanted)
            behind_number = wanted == {"constant.numeric.jig"}
            seen |= scope
    assert len(seen) == 8, seen


SCENES = [colours, findings, documents, fixes, completion, hover, against, names, layout, outline, encodings, files, two]

if __name__ == "__main__":
    scene = {scene.__name__: scene for scene in SCENES}[sys.argv[2]]
    with tempfile.TemporaryDirectory() as folder:
        asyncio.run(asyncio.wait_for(scene(Path(os.path.realpath(folder))), 110))
