-- doorlint in Neovim 0.11 or newer: these lines go into init.lua.
vim.lsp.config("doorlint", {
  cmd = { "doorlint", "editor" },
  filetypes = { "yaml" },
  root_markers = { "project.yaml", ".git" },
})
vim.lsp.enable("doorlint")

vim.diagnostic.config({ virtual_text = true }) -- each finding at the end of its line
vim.lsp.inlay_hint.enable(true) -- computed volts and margins beside the text
