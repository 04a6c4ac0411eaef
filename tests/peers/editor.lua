-- An editor that nobody here wrote, without a screen: nvim --headless, set up as the README tells, with RECIPE in its
-- environment. It finds the kind of file by the shipped `ftdetect`, starts the language server, and shows findings,
-- completion, what a word means, a definition, a fix, a new name, the one layout and colours. Ends with `:cquit` if
-- anything is not as it has to be.

local recipe = vim.env.RECIPE
local WAIT = 30000

local function check(fine, what)
    if not fine then
        io.stderr:write("editor.lua: " .. what .. "\n")
        vim.cmd("cquit 1")
    end
end

local function wait_for(what, condition)
    check(vim.wait(WAIT, condition, 20), what)
end

local function lines()
    return vim.api.nvim_buf_get_lines(0, 0, -1, false)
end

local function run()
    vim.cmd("filetype plugin on")
    vim.cmd("syntax on")
    vim.cmd("edit " .. vim.fn.fnameescape(recipe))
    check(vim.bo.filetype == "jig", "the kind of file is " .. vim.bo.filetype)

    wait_for("no client", function() return #vim.lsp.get_active_clients() == 1 end)
    local client = vim.lsp.get_active_clients()[1].id
    wait_for("no findings", function() return #vim.diagnostic.get(0) > 0 end)
    local wrong = vim.diagnostic.get(0, { severity = vim.diagnostic.severity.ERROR })
    check(#wrong == 1 and wrong[1].source == "quadjig", vim.inspect(wrong))
    check(lines()[wrong[1].lnum + 1]:sub(wrong[1].col + 1, wrong[1].end_col) == "propz", vim.inspect(wrong))
    local function place(word, behind)
        for number, line in ipairs(lines()) do
            local at = line:find(word, 1, true)
            if at then
                vim.api.nvim_win_set_cursor(0, { number, at - 1 + (behind or 0) })
                return
            end
        end
        check(false, "there is no " .. word)
    end
    local function ask(method, more)
        local params = vim.tbl_extend("force", vim.lsp.util.make_position_params(), more or {})
        local answers, why = vim.lsp.buf_request_sync(0, method, params, WAIT)
        check(answers ~= nil and answers[client] ~= nil, method .. ": " .. tostring(why))
        check(answers[client].err == nil, vim.inspect(answers[client].err))
        return answers[client].result
    end

    -- What a word means, behind a character of two units.
    place("set loop", 5)
    local told = ask("textDocument/hover")
    check(told.contents.value:find("Finch", 1, true) ~= nil, vim.inspect(told))

    -- A fix, by its place.
    place("propz")
    local range = vim.lsp.util.make_range_params()
    range.context = { diagnostics = {} }
    local actions = vim.lsp.buf_request_sync(0, "textDocument/codeAction", range, WAIT)[client].result
    check(#actions > 0, "no fix")
    vim.lsp.util.apply_workspace_edit(actions[1].edit, "utf-16")
    check(vim.tbl_contains(lines(), "require props off"), vim.inspect(lines()))
    wait_for("the mended line still has a finding", function()
        return #vim.diagnostic.get(0, { severity = vim.diagnostic.severity.ERROR }) == 0
    end)

    -- Completion, at the end of a line that is being typed.
    vim.api.nvim_buf_set_lines(0, -1, -1, false, { "test bu" })
    vim.api.nvim_win_set_cursor(0, { vim.api.nvim_buf_line_count(0), 6 })
    local params = vim.lsp.util.make_position_params()
    params.position.character = 7
    local items = vim.lsp.buf_request_sync(0, "textDocument/completion", params, WAIT)[client].result
    check(#items == 1 and items[1].label == "buzzer", vim.inspect(items))
    vim.lsp.util.apply_text_edits({ items[1].textEdit }, 0, "utf-16")
    check(lines()[#lines()] == "test buzzer", vim.inspect(lines()))

    -- A definition and a new name.
    place("to switch B", 10)
    local where = ask("textDocument/definition")
    check(#where == 1 and lines()[where[1].range.start.line + 1]:find("^switch B") ~= nil, vim.inspect(where))
    vim.lsp.util.apply_workspace_edit(ask("textDocument/rename", { newName = "left" }), "utf-16")
    local text = table.concat(lines(), "\n")
    check(text:find("switch left on channel") and text:find("to switch left"), text)

    -- The one layout.
    vim.lsp.buf.formatting_sync({}, WAIT)
    text = table.concat(lines(), "\n")
    check(text:find("\nkeep\n", 1, true) ~= nil and text:find("  keep", 1, true) == nil, text)

    -- Colours: the groups of words, as the shipped `syntax` tells them.
    local function group(word, behind)
        place(word, behind)
        local at = vim.api.nvim_win_get_cursor(0)
        return vim.fn.synIDattr(vim.fn.synID(at[1], at[2] + 1, 1), "name")
    end
    local wanted = {
        { "require props", 0, "jigStatement" },
        { "require props", 9, "jigKeyword" },
        { "1000, 1500", 1, "jigNumber" },
        { "4 kHz", 3, "jigUnit" },
        { "\"𝛼", 1, "jigString" },
        { "# said", 3, "jigComment" },
        { "self-level", 6, "" },
    }
    for _, want in ipairs(wanted) do
        local found = group(want[1], want[2])
        check(found == want[3], want[1] .. " is of " .. found .. ", not " .. want[3])
    end

    vim.lsp.stop_client(client)
    wait_for("the server stays", function() return vim.lsp.client_is_stopped(client) end)
end

local fine, why = pcall(run)
check(fine, tostring(why))
vim.cmd("qall!")
