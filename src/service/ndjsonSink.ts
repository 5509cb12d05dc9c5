import { Buffer } from 'node:buffer'
import { closeSync, fdatasync, fstatSync, ftruncateSync, openSync, readSync, write } from 'node:fs'
import { resolve } from 'node:path'
import type { Writable } from 'node:stream'
import { promisify } from 'node:util'
import { NotTaken } from '../adapters/handover.js'
import type { OutboxRow } from '../adapters/sqliteStore.js'
import type { Sink } from './outbox.js'

/** Events as lines of a stream such as standard output; waits while the reader is slow. */
export function streamSink(name: string, stream: Writable): Sink {
  // A reader that goes away is told to whoever writes; without a listener of ours it would end the process.
  stream.on('error', () => {})
  // Several plants write to one standard output, each with a listener of its own.
  stream.setMaxListeners(stream.getMaxListeners() + 1)
  return {
    name,
    publish: rows =>
      new Promise((written, failed) => {
        const gone = (error?: Error) => {
          failed(new NotTaken(`the reader has gone: ${error?.message ?? 'closed'}`, { forGood: true }))
        }
        // Who is destroyed need not answer for what it was just writing.
        stream.once('close', gone)
        stream.write(lines(rows), error => {
          stream.off('close', gone)
          if (error === null || error === undefined) written()
          else gone(error)
        })
      }),
    close: async () => {},
  }
}

/**
 * Events as lines of a file, added at its end and synchronised before they count as published. A line torn by a crash
 * or a full disk is cut off before the next one is added; its event comes again, whole.
 * @throws where the file cannot be opened
 */
export function fileSink(name: string, path: string): Sink {
  const key = resolve(path)
  const file = open.get(key) ?? { descriptor: openWhole(key), users: 0, torn: false, turn: Promise.resolve() }
  open.set(key, file)
  file.users++
  return {
    name,
    publish: rows => inTurn(file, () => append(file, Buffer.from(lines(rows)))),
    close: () =>
      inTurn(file, async () => {
        file.users--
        if (file.users > 0) return
        open.delete(key)
        closeSync(file.descriptor)
      }),
  }
}

/** A file that takes the events of all plants of this process. */
interface EventsFile {
  readonly descriptor: number
  users: number
  torn: boolean
  /** Who writes or cuts waits for those before: a cut would take the lines of another along. */
  turn: Promise<unknown>
}

const open = new Map<string, EventsFile>()
const writeBytes = promisify(write)
const synchronise = promisify(fdatasync)

function openWhole(path: string): number {
  const descriptor = openSync(path, 'a+')
  ftruncateSync(descriptor, endOfLastLine(descriptor))
  return descriptor
}

function inTurn(file: EventsFile, run: () => Promise<void>): Promise<void> {
  const done = file.turn.then(run)
  file.turn = done.catch(() => {})
  return done
}

/** Not in the thread of everything else: a disk that hangs is a slow sink like any other. */
async function append(file: EventsFile, bytes: Buffer): Promise<void> {
  if (file.torn) ftruncateSync(file.descriptor, endOfLastLine(file.descriptor))
  file.torn = true
  for (let at = 0; at < bytes.length;) at += (await writeBytes(file.descriptor, bytes, at)).bytesWritten
  await synchronise(file.descriptor)
  file.torn = false
}

function lines(rows: readonly OutboxRow[]): string {
  return rows.map(row => `${row.body}\n`).join('')
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
