// A page with one CodeMirror 6 editor that speaks to a language server over a web socket. `open` is all that the
// tests call; everything else they do as a user does, by mouse and keys.
import {LSPClient, languageServerExtensions} from "@codemirror/lsp-client"
import {yaml} from "@codemirror/lang-yaml"
import {lintGutter} from "@codemirror/lint"
import {basicSetup, EditorView} from "codemirror"

function overSocket(address) {
  return new Promise((resolve, reject) => {
    const socket = new WebSocket(address)
    const handlers = new Set()
    socket.onmessage = event => handlers.forEach(handle => handle(event.data))
    socket.onerror = () => reject(new Error(`no server at ${address}`))
    socket.onopen = () => resolve({
      send: message => socket.send(message),
      subscribe: handle => handlers.add(handle),
      unsubscribe: handle => handlers.delete(handle),
    })
  })
}

// Show `text` as the file `uri`; resolves when the server has answered the greeting.
window.open = async (address, uri, text) => {
  // the client's own 3 s are too few where many tests share a machine
  const client = new LSPClient({extensions: languageServerExtensions(), timeout: 60000})
  client.connect(await overSocket(address))
  window.editor = new EditorView({
    doc: text,
    parent: document.body,
    extensions: [basicSetup, yaml(), lintGutter(), client.plugin(uri, "yaml")],
  })
  await client.initializing
}

// Scroll to a line and column, from 1, and put the cursor there; answers where on the screen that is.
window.at = (number, column) => {
  const position = window.editor.state.doc.line(number).from + column - 1
  window.editor.dispatch({selection: {anchor: position}, effects: EditorView.scrollIntoView(position, {y: "center"})})
  window.editor.focus()
  return new Promise(resolve => requestAnimationFrame(() => requestAnimationFrame(() => {
    const {left, top, bottom} = window.editor.coordsAtPos(position)
    resolve({x: left + 3, y: (top + bottom) / 2})
  })))
}
