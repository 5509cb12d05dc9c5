import type { RecordedInput, Rejected } from '../model/recordedInput.js'
import { type FileProblem, type Pause, readBytes } from './inputFiles.js'
import { createLineSplitter } from './lineSplitter.js'
import { parseMessageText, tooLarge } from './payload.js'

export interface NdjsonSink {
  /** One line as an input; `position` is `file:line`, made only where it is asked for. */
  readonly input: (input: RecordedInput, lineNumber: number) => void
  readonly pause?: Pause
}

/**
 * Reads newline-delimited JSON, one message or one recorded input a line. A recorded input is what a journal holds:
 * an object with `feed` and `message` and no `kind` of its own. Empty lines are skipped. What cannot be parsed is
 * handed over as `rejected`.
 * @param feed name given to lines that are plain messages
 */
export async function readNdjson(file: string, feed: string, sink: NdjsonSink): Promise<FileProblem | undefined> {
  const name = file === '-' ? 'stdin' : file
  const reject = (message: Rejected, number: number): void => {
    sink.input({ feed, position: `${name}:${String(number)}`, message }, number)
  }
  const splitter = createLineSplitter({
    line: (text, number) => {
      if (text.length < 3 && /^\ufeff?\s*$/.test(text)) return
      const parsed = parseMessageText(text)
      if (parsed.ok) sink.input(asRecorded(parsed.value) ?? { feed, message: parsed.value }, number)
      else if (text.trim() !== '') reject(parsed.rejected, number)
    },
    tooLong: (sizeBytes, beginning, number) => reject(tooLarge(sizeBytes, beginning), number),
  })
  const problem = await readBytes(file, splitter.push, sink.pause)
  splitter.end()
  return problem
}

function asRecorded(value: unknown): RecordedInput | undefined {
  if (typeof value !== 'object' || value === null || Object.hasOwn(value, 'kind')) return undefined
  const { feed, message, receivedAt, position } = value as Record<string, unknown>
  if (typeof feed !== 'string' || message === undefined) return undefined
  return {
    feed,
    message,
    ...(typeof receivedAt === 'string' ? { receivedAt } : {}),
    ...(typeof position === 'string' ? { position } : {}),
  }
}
