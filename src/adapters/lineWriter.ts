import { createWriteStream, mkdirSync } from 'node:fs'
import { dirname } from 'node:path'
import type { Writable } from 'node:stream'
import { finished } from 'node:stream/promises'
import { createGzip } from 'node:zlib'

/** Lines on their way to a file or to standard output. */
export interface LineWriter {
  readonly write: (line: string) => void
  /** Hands over what was written; waits while the reader is slow. */
  readonly flush: () => Promise<void>
  readonly close: () => Promise<void>
  /** The reader has gone, as `head` does: nothing more needs to be written. */
  readonly gone: () => boolean
}

const GATHER = 1 << 16

/** @param path `-` for standard output; a name ending in `.gz` is packed. The file is replaced. */
export function openLineWriter(path: string): LineWriter {
  if (path === '-') return writerTo(process.stdout, async () => {})
  mkdirSync(dirname(path), { recursive: true })
  const file = createWriteStream(path)
  if (!path.endsWith('.gz')) return writerTo(file, () => endOf(file, file))
  const packed = createGzip()
  packed.pipe(file)
  file.once('error', error => packed.destroy(error))
  return writerTo(packed, () => endOf(packed, file))
}

function writerTo(stream: Writable, end: () => Promise<void>): LineWriter {
  let text = ''
  let gone = false
  let failed: Error | undefined
  stream.on('error', (error: NodeJS.ErrnoException) => {
    if (error.code === 'EPIPE') gone = true
    else failed = error
  })
  const flush = async (): Promise<void> => {
    if (failed !== undefined) throw failed
    const pending = text
    text = ''
    if (pending !== '' && !gone) stream.write(pending)
    if (gone || !stream.writableNeedDrain) return
    await roomAgain(stream)
  }
  return {
    write: line => {
      text += `${line}\n`
      if (text.length < GATHER || gone) return
      stream.write(text)
      text = ''
    },
    flush,
    close: async () => {
      await flush()
      await end()
    },
    gone: () => gone,
  }
}

/** A reader that goes away ends the wait too. */
function roomAgain(stream: Writable): Promise<void> {
  return new Promise(resolve => {
    const done = (): void => {
      for (const event of WAKE) stream.off(event, done)
      resolve()
    }
    for (const event of WAKE) stream.on(event, done)
  })
}

const WAKE = ['drain', 'close', 'error'] as const

async function endOf(stream: Writable, file: Writable): Promise<void> {
  stream.end()
  await finished(file)
}
