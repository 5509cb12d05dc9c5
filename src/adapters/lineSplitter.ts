import { Buffer } from 'node:buffer'
import { MAX_MESSAGE_BYTES } from './payload.js'

const NEWLINE = 10
const CARRIAGE_RETURN = 13
/** Enough for 1,024 UTF-16 units of any text. */
const BEGINNING_BYTES = 3_100

export interface LineSink {
  /** One line without its end; `number` counts from 1. */
  readonly line: (text: string, number: number) => void
  /** A line longer than `MAX_MESSAGE_BYTES`: its size and its first characters; the rest was not held. */
  readonly tooLong: (sizeBytes: number, beginning: string, number: number) => void
}

export interface LineSplitter {
  readonly push: (chunk: Buffer) => void
  /** Hands over a last line that has no end. */
  readonly end: () => void
}

/**
 * Cuts bytes into lines of UTF-8 text and never holds more than one chunk and one allowed line. All whole lines of a
 * chunk are decoded at once and handed over synchronously, for a promise per line costs more than parsing it.
 * (split2 4.2.0 was tried: `maxLength` counts characters of the unfinished line only, fails the whole stream, and
 * with `skipOverflow` drops the line without a word.)
 */
export function createLineSplitter(sink: LineSink): LineSplitter {
  let number = 0
  let rest: Buffer = Buffer.alloc(0)
  let longLine: { sizeBytes: number; readonly beginning: string; endsInReturn: boolean } | undefined

  function give(text: string): void {
    number += 1
    const line = text.endsWith('\r') ? text.slice(0, -1) : text
    // A UTF-16 unit takes at most three bytes of UTF-8, so most lines need no count.
    if (line.length * 3 > MAX_MESSAGE_BYTES) {
      const sizeBytes = Buffer.byteLength(line)
      if (sizeBytes > MAX_MESSAGE_BYTES) {
        sink.tooLong(sizeBytes, line.slice(0, BEGINNING_BYTES), number)
        return
      }
    }
    sink.line(line, number)
  }

  function giveLong(): void {
    if (longLine === undefined) return
    number += 1
    sink.tooLong(longLine.sizeBytes - (longLine.endsInReturn ? 1 : 0), longLine.beginning, number)
    longLine = undefined
  }

  function skip(bytes: Buffer): void {
    if (longLine === undefined || bytes.length === 0) return
    longLine.sizeBytes += bytes.length
    longLine.endsInReturn = bytes.at(-1) === CARRIAGE_RETURN
  }

  function keep(bytes: Buffer): void {
    if (bytes.length <= MAX_MESSAGE_BYTES + 1) {
      rest = bytes
      return
    }
    longLine = { sizeBytes: 0, beginning: bytes.toString('utf8', 0, BEGINNING_BYTES), endsInReturn: false }
    skip(bytes)
    rest = Buffer.alloc(0)
  }

  return {
    push: chunk => {
      let bytes = chunk
      if (longLine !== undefined) {
        const end = bytes.indexOf(NEWLINE)
        skip(end === -1 ? bytes : bytes.subarray(0, end))
        if (end === -1) return
        giveLong()
        bytes = bytes.subarray(end + 1)
      } else if (rest.length > 0) {
        bytes = Buffer.concat([rest, bytes])
      }
      const last = bytes.lastIndexOf(NEWLINE)
      if (last !== -1) giveLines(bytes.toString('utf8', 0, last), give)
      keep(last === -1 ? bytes : bytes.subarray(last + 1))
    },
    end: () => {
      giveLong()
      if (rest.length > 0) give(rest.toString('utf8'))
      rest = Buffer.alloc(0)
    },
  }
}

function giveLines(text: string, give: (line: string) => void): void {
  let from = 0
  for (let to = text.indexOf('\n'); to !== -1; to = text.indexOf('\n', from)) {
    give(text.slice(from, to))
    from = to + 1
  }
  give(text.slice(from))
}
