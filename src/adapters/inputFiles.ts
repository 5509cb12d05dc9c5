import type { Buffer } from 'node:buffer'
import { createReadStream } from 'node:fs'
import { Readable } from 'node:stream'
import { createGunzip } from 'node:zlib'

const CHUNK_BYTES = 1 << 18

/** Why a file could not be read to its end: a sentence for people. */
export interface FileProblem {
  readonly file: string
  readonly problem: string
}

/**
 * Called between chunks with the bytes of the file read so far (packed bytes, where it is packed): the place to wait
 * for whoever is slower. False ends the reading.
 */
export type Pause = (fileBytes: number) => Promise<boolean>

/**
 * Hands over the bytes of a file, or of standard input for `-`, chunk by chunk; gzip is known by its first two bytes
 * (RFC 1952 §2.3.1) and unpacked. The next chunk is read when `pause` is done, so a slow reader is never flooded.
 * @returns what went wrong, if anything; chunks before that have been handed over
 */
export async function readBytes(
  file: string,
  take: (chunk: Buffer) => void,
  pause?: Pause,
): Promise<FileProblem | undefined> {
  const stored = file === '-' ? undefined : createReadStream(file, { highWaterMark: CHUNK_BYTES })
  const source: Readable = stored ?? process.stdin
  try {
    for await (const chunk of await unpacked(source)) {
      take(chunk)
      if (pause !== undefined && !(await pause(stored?.bytesRead ?? 0))) break
    }
    return undefined
  } catch (error) {
    if (!isIoError(error)) throw error
    return { file, problem: sayIoError(error) }
  } finally {
    stored?.destroy()
  }
}

async function unpacked(source: Readable): Promise<AsyncIterable<Buffer>> {
  const chunks = source[Symbol.asyncIterator]() as AsyncIterator<Buffer>
  const first = await chunks.next()
  if (first.done === true) return Readable.from([])
  const all = chained(first.value, chunks)
  if (first.value[0] !== 0x1f || first.value[1] !== 0x8b) return all
  const packed = Readable.from(all, { objectMode: false })
  const gunzip = createGunzip({ chunkSize: CHUNK_BYTES })
  packed.once('error', error => gunzip.destroy(error))
  return packed.pipe(gunzip)
}

async function* chained(first: Buffer, chunks: AsyncIterator<Buffer>): AsyncGenerator<Buffer> {
  yield first
  for (let next = await chunks.next(); next.done !== true; next = await chunks.next()) yield next.value
}

/** An error of the system, such as a full disk, and not a mistake in the program. */
export function isIoError(error: unknown): error is NodeJS.ErrnoException {
  return error instanceof Error && SYSTEM_CODE.test((error as NodeJS.ErrnoException).code ?? '')
}

/** `ENOENT`, `Z_DATA_ERROR`; Node's own mistakes are `ERR_…`. */
const SYSTEM_CODE = /^(E(?!RR_)|Z_)[A-Z_]+$/

/** A sentence for what the system answers. */
export function sayIoError(error: NodeJS.ErrnoException): string {
  return SENTENCES.get(error.code ?? '') ?? error.message
}

const SENTENCES: ReadonlyMap<string, string> = new Map([
  ['ENOENT', 'there is no such file'],
  ['EISDIR', 'is a folder, not a file'],
  ['EACCES', 'this user may not'],
  ['EPERM', 'this user may not'],
  ['ENOTDIR', 'a part of its path is no folder'],
  ['EEXIST', 'a file is in the way of a folder'],
  ['ENOSPC', 'the disk is full'],
  ['Z_BUF_ERROR', 'the gzip data ends too early'],
  ['Z_DATA_ERROR', 'the gzip data is damaged'],
])
