import type { RecordedInput } from '../model/recordedInput.js'
import { parseInstant } from '../model/time.js'
import type { FileProblem } from './inputFiles.js'
import { type CsvDefaults, type InputSink, isCsvName, readInputs } from './inputSource.js'

export interface InputFile {
  readonly path: string
  readonly defaults: CsvDefaults
}

interface Held {
  readonly input: RecordedInput
  readonly file: string
  readonly atMs: number
}

/**
 * Reads several files as one record. NDJSON files hold messages in the order they arrived and are read one after
 * another. CSV files hold no such order: the first (where there is no NDJSON) is read row by row, the others are held
 * in memory, and each of their rows is taken just before the first later reading. A laboratory result counts as known
 * when it was reported, where the file says so.
 */
export async function readMerged(
  files: readonly InputFile[],
  feed: string,
  sink: InputSink,
): Promise<FileProblem | undefined> {
  const inOrder = files.filter(({ path }) => !isCsvName(path))
  const csv = files.filter(({ path }) => isCsvName(path))
  const streamed = inOrder.length > 0 ? inOrder : csv.slice(0, 1)
  const held: Held[] = []
  for (const file of csv.filter(one => !streamed.includes(one))) {
    const { missing, ignored } = sink
    const problem = await readInputs(file.path, feed, file.defaults, {
      missing,
      ...(ignored === undefined ? {} : { ignored }),
      input: (input, name, line, atMs) => {
        if (atMs === undefined) sink.input(input, name, line, atMs)
        else held.push({ input, file: name, atMs })
      },
    })
    if (problem !== undefined) return problem
  }
  held.sort((a, b) => a.atMs - b.atMs)
  const reached = createReached()
  let next = 0
  const takeUntil = (atMs: number): void => {
    for (let due = held[next]; due !== undefined && due.atMs <= atMs; due = held[next]) {
      next += 1
      sink.input(due.input, due.file, 0, due.atMs)
    }
  }
  let doneBytes = 0
  for (const file of streamed) {
    const reading = { fileBytes: 0, stopped: false }
    const problem = await readInputs(file.path, feed, file.defaults, {
      ...sink,
      input: (input, name, line, atMs) => {
        if (next < held.length) takeUntil(reached(atMs ?? readingTime(input.message)))
        sink.input(input, name, line, atMs)
      },
      pause: async bytes => {
        reading.fileBytes = bytes
        reading.stopped = sink.pause !== undefined && !(await sink.pause(doneBytes + bytes))
        return !reading.stopped
      },
    })
    if (problem !== undefined || reading.stopped) return problem
    doneBytes += reading.fileBytes
  }
  takeUntil(Number.POSITIVE_INFINITY)
  return undefined
}

function readingTime(message: unknown): number | undefined {
  if (typeof message !== 'object' || message === null) return undefined
  const { kind, time } = message as { kind?: unknown; time?: unknown }
  return kind === 'reading' && typeof time === 'string' ? parseInstant(time) : undefined
}

/** Time the readings have reached: the median of the newest five, so that one row from 2099 releases nothing. */
function createReached(): (atMs: number | undefined) => number {
  let newest: readonly number[] = []
  return atMs => {
    if (atMs !== undefined) newest = [...newest.slice(-4), atMs]
    return [...newest].sort((a, b) => a - b)[Math.floor((newest.length - 1) / 2)] ?? Number.NEGATIVE_INFINITY
  }
}
