// What the benchmarks of `serve` send: readings of the invented plant's fifteen analyzers, in the order of arrival.
import { createReadStream } from 'node:fs'
import { createInterface } from 'node:readline'
import { fileURLToPath } from 'node:url'
import { createGunzip } from 'node:zlib'

export const REGISTER = fileURLToPath(new URL('../../sample-streams/register.yaml', import.meta.url))
const STREAM = fileURLToPath(new URL('../../sample-streams/stream.ndjson.gz', import.meta.url))
/** The sample's own time between readings of one analyzer. */
const SAMPLE_S = 300

/**
 * The sample stream holds a reading each five minutes, which is three for each block that the core weighs. Plants send
 * more often; `everyS` puts readings between those of the sample, on the straight line between them and with a last
 * digit of their own, so that nothing looks stuck.
 * @param everyS 300 for the sample as it is, or a divisor of 300  @returns lines of JSON
 */
export async function readings(count, everyS) {
  const parts = SAMPLE_S / everyS
  if (!Number.isInteger(parts)) throw new RangeError(`${everyS} s does not divide ${SAMPLE_S} s`)
  const before = new Map()
  const found = []
  for await (const line of createInterface({ input: createReadStream(STREAM).pipe(createGunzip()) })) {
    if (found.length >= count) break
    if (!line.includes('"kind":"reading"')) continue
    const reading = JSON.parse(line)
    const atMs = Date.parse(reading.time)
    const last = before.get(reading.analyzer)
    before.set(reading.analyzer, { ...reading, atMs })
    if (last !== undefined && atMs - last.atMs === SAMPLE_S * 1_000) {
      for (let part = 1; part < parts; part++) found.push(between(last, reading, part / parts, found.length))
    }
    found.push({ atMs, line })
  }
  if (found.length < count) throw new RangeError(`the sample stream gives ${found.length} readings`)
  return found
    .sort((a, b) => a.atMs - b.atMs)
    .slice(0, count)
    .map(({ line }) => line)
}

function between(last, next, share, salt) {
  const atMs = last.atMs + share * SAMPLE_S * 1_000
  const digits = (String(last.value).split('.')[1] ?? '').length
  const unit = 10 ** -digits
  const value = last.value + share * (next.value - last.value) + ((salt % 5) - 2) * unit
  const { atMs: _atMs, ...reading } = last
  const time = new Date(atMs).toISOString().replace('.000Z', 'Z')
  return { atMs, line: JSON.stringify({ ...reading, time, value: Number(Math.max(unit, value).toFixed(digits)) }) }
}
