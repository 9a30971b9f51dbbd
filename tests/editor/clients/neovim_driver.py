"""Drives a Neovim without a screen by the keys that a user types, and asks it what it shows."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from client_room import PATIENCE, SCRIPTS, environment, until


def program() -> str | None:
    """Neovim as installed beside this Python (the wheel that the tests ask for), else the one on the path."""
    return shutil.which("nvim", path=SCRIPTS) or shutil.which("nvim")


class Neovim:
    """One Neovim that listens on a socket."""

    def __init__(self, program: str, settings: Path, file: Path, home: Path) -> None:
        self._program = program
        self._socket = str(home / "nvim.sock")
        self._environment = {**environment(home), "NVIM_LOG_FILE": str(home / "nvim.log")}
        command = [program, "--headless", "--listen", self._socket, "-u", str(settings), str(file)]
        self._errors = (home / "stderr").open("w+b")
        self._process = subprocess.Popen(
            command, cwd=file.parent, env=self._environment,
            stdin=subprocess.DEVNULL, stdout=self._errors, stderr=self._errors,
        )  # fmt: skip
        until(lambda: Path(self._socket).exists(), "Neovim to listen")

    def _ask(self, *arguments: str) -> str:
        done = subprocess.run(
            [self._program, "--server", self._socket, *arguments],
            env=self._environment, capture_output=True, text=True, check=False, timeout=PATIENCE,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return done.stdout

    def type(self, keys: str) -> None:
        """Type keys in Neovim's notation ("<Esc>", "<CR>")."""
        self._ask("--remote-send", keys)

    def lua(self, code: str, **given: Any) -> Any:
        """What a Lua chunk returns; `given` stands in the table `given`."""
        chunk = f"local given = vim.json.decode([==[{json.dumps(given)}]==], {{luanil = {{object = true}}}})\n{code}"
        quoted = chunk.replace("'", "''")
        answer = self._ask("--remote-expr", f"luaeval('vim.json.encode({{load(_A)()}})', '{quoted}')")
        values = json.loads(answer)
        return values[0] if values else None

    def at(self, line: int, column: int) -> None:
        """Put the cursor on a line and a byte column, both from 1."""
        self.lua("vim.api.nvim_win_set_cursor(0, {given.line, given.column - 1})", line=line, column=column)

    def findings(self, file: Path | None = None) -> list[Mapping[str, Any]]:
        """The diagnostics that are shown in the window, or in the window of a file: line from 1, the text under them,
        code, message, source and severity (1 error, 2 warning, 3 information, 4 hint)."""
        found = self.lua(
            """
            local all, buffer = {}, given.file and vim.fn.bufnr(given.file) or 0
            for _, d in ipairs(vim.diagnostic.get(buffer)) do
              local text = vim.api.nvim_buf_get_text(buffer, d.lnum, d.col, d.end_lnum, d.end_col, {})
              table.insert(all, {line = d.lnum + 1, text = table.concat(text, "\\n"), code = d.code,
                message = d.message, source = d.source, severity = d.severity})
            end
            return all
            """,
            file=str(file) if file else None,
        )
        return found or []

    def hints(self) -> list[str]:
        """The texts that stand beside the text of the buffer (inlay hints)."""
        return [
            label if isinstance(label, str) else "".join(part["value"] for part in label)
            for label in self.lua(
                """
                return vim.tbl_map(function(hint) return hint.inlay_hint.label end, vim.lsp.inlay_hint.get({bufnr = 0}))
                """
            )
            or []
        ]

    def floating(self) -> str:
        """The text of the windows that float above the buffer."""
        return str(
            self.lua(
                """
                local texts = {}
                for _, window in ipairs(vim.api.nvim_list_wins()) do
                  if vim.api.nvim_win_get_config(window).relative ~= "" then
                    local buffer = vim.api.nvim_win_get_buf(window)
                    table.insert(texts, table.concat(vim.api.nvim_buf_get_lines(buffer, 0, -1, false), "\\n"))
                  end
                end
                return table.concat(texts, "\\n")
                """
            )
        )

    def text(self) -> str:
        """The buffer as it would be written."""
        return str(self.lua('return table.concat(vim.api.nvim_buf_get_lines(0, 0, -1, false), "\\n") .. "\\n"'))

    def line(self) -> str:
        """The line that the cursor is in."""
        return str(self.lua("return vim.api.nvim_get_current_line()"))

    def buffer(self) -> Path:
        """The file in the window."""
        return Path(self.lua("return vim.api.nvim_buf_get_name(0)"))

    def offered(self) -> list[str]:
        """The words of the completion menu."""
        found = self.lua("return vim.tbl_map(function(item) return item.word end, vim.fn.complete_info().items or {})")
        return list(found or [])

    def choose(self, part_of_title: str) -> None:
        """From now on choose from every list the entry with this in its title, as the user would in a picker."""
        self.lua(
            """
            _G.choices, _G.told = {}, {}
            vim.ui.select = function(items, options, on_choice)
              local chosen
              for _, item in ipairs(items) do
                local title = options.format_item(item)
                table.insert(_G.choices, title)
                if title:find(given.title, 1, true) then chosen = item end
              end
              on_choice(chosen)
            end
            vim.notify = function(message) table.insert(_G.told, message) end
            """,
            title=part_of_title,
        )

    def choices(self) -> list[str]:
        """The titles of the lists shown since `choose`."""
        return list(self.lua("return _G.choices") or [])

    def messages(self) -> str:
        """What Neovim told the user since `choose`."""
        return "\n".join(self.lua("return _G.told") or [])

    def close(self) -> int:
        """Quit without writing; the exit status."""
        if self._process.poll() is None:
            self.type("<C-\\><C-n>:qa!<CR>")
        try:
            status = self._process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            self._process.kill()
            status = self._process.wait()
        self._errors.close()
        return status
