import { SingleBar } from 'cli-progress'
import type { Terminal } from './terminal.js'

/** Shows how far a long command has come, on standard error. */
export interface Progress {
  /** @param doneBytes of all inputs  @param text such as the plant time reached */
  readonly at: (doneBytes: number, text: string) => void
  readonly end: () => void
}

const LINE_EVERY_MS = 10_000

/** A bar on a terminal, else a line now and then. @param totalBytes undefined where nobody knows the size */
export function startProgress(terminal: Terminal, totalBytes: number | undefined): Progress {
  if (!terminal.tellIsTerminal || totalBytes === undefined) return lines(terminal, totalBytes)
  const bar = new SingleBar({
    format: '{bar} {percentage}% {text}',
    barsize: 30,
    hideCursor: true,
    clearOnComplete: true,
    stream: process.stderr,
  })
  bar.start(totalBytes, 0, { text: '' })
  return { at: (done, text) => bar.update(Math.min(done, totalBytes), { text }), end: () => bar.stop() }
}

function lines(terminal: Terminal, totalBytes: number | undefined): Progress {
  let lastMs = Date.now()
  return {
    at: (done, text) => {
      const now = Date.now()
      if (now - lastMs < LINE_EVERY_MS) return
      lastMs = now
      const share = totalBytes === undefined ? '' : `${String(Math.floor((100 * done) / totalBytes))} %, `
      terminal.tell(`${share}${text}`)
    },
    end: () => {},
  }
}
