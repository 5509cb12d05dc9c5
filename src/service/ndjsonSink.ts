import { Buffer } from 'node:buffer'
import { once } from 'node:events'
import { closeSync, fdatasyncSync, fstatSync, ftruncateSync, openSync, readSync, writeSync } from 'node:fs'
import type { Writable } from 'node:stream'
import type { Sink } from './outbox.js'

/** Events as lines of a stream such as standard output; waits while the reader is slow. */
export function streamSink(name: string, stream: Writable): Sink {
  return {
    name,
    publish: async rows => {
      if (!stream.write(rows.map(row => `${row.body}\n`).join(''))) await once(stream, 'drain')
    },
    close: async () => {},
  }
}

/**
 * Events as lines of a file, added at its end and synchronised before they count as published. A line torn by a crash
 * is cut off when the file is opened; its event comes again, whole.
 */
export function fileSink(name: string, path: string): Sink {
  const file = openSync(path, 'a+')
  ftruncateSync(file, endOfLastLine(file))
  return {
    name,
    publish: async rows => {
      const bytes = Buffer.from(rows.map(row => `${row.body}\n`).join(''))
      for (let at = 0; at < bytes.length;) at += writeSync(file, bytes, at)
      fdatasyncSync(file)
    },
    close: async () => closeSync(file),
  }
}

const LINE_END = 0x0a
const CHUNK = 65_536

function endOfLastLine(file: number): number {
  const chunk = Buffer.alloc(CHUNK)
  for (let end = fstatSync(file).size; end > 0;) {
    const from = Math.max(0, end - CHUNK)
    const read = readSync(file, chunk, 0, end - from, from)
    const at = chunk.lastIndexOf(LINE_END, read - 1)
    if (at >= 0 && at < read) return from + at + 1
    end = from
  }
  return 0
}
