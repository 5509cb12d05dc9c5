import { createReadStream, createWriteStream } from 'node:fs'
import { once } from 'node:events'
import { createInterface } from 'node:readline'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { createGunzip } from 'node:zlib'
import { registerMessage } from '../../src/core/registerInput.js'
import { canonicalJson } from '../../src/model/canonicalJson.js'
import type { RegisterFile } from '../../src/model/register.js'
import { PLANT_CORE } from '../../src/service/plantCore.js'
import { createPlantRunner } from '../../src/service/plantRunner.js'
import { SAMPLES } from './built.js'

/** Writes the messages of the sample stream that arrived before a time into a file. @returns how many */
export async function writeBeginning(file: string, before: string): Promise<number> {
  const out = createWriteStream(file)
  let lines = 0
  for await (const line of createInterface({
    input: createReadStream(join(SAMPLES, 'stream.ndjson.gz')).pipe(createGunzip()),
  })) {
    // Readings stand in the order of arrival, within two minutes of their own time.
    if (line.includes('"kind":"reading"') && (/"time":"([^"]+)"/.exec(line)?.[1] ?? '') >= before) break
    lines++
    if (!out.write(`${line}\n`)) await once(out, 'drain')
  }
  out.end()
  await once(out, 'finish')
  return lines
}

/** The events of an unbroken run over a file: id and comparable content, in order. */
export function unbrokenEvents(file: string, register: RegisterFile): ReadonlyMap<string, string> {
  const runner = createPlantRunner(PLANT_CORE.create(register.plant), {
    core: PLANT_CORE,
    ticks: 'event',
    lastSeq: 0,
    prefix: 'turbidrift',
    softwareVersion: '0.0.0',
  })
  const inputs = [registerMessage(register), ...parseLines(readFileSync(file, 'utf8'))]
  const { events } = runner.advance(inputs.map(message => ({ feed: 'in', message })))
  return new Map(events.map(event => [event.id, comparable(event.body)]))
}

export function parseLines(text: string): unknown[] {
  return text
    .split('\n')
    .filter(line => line !== '')
    .map(line => JSON.parse(line) as unknown)
}

/** An event without the software's version. */
export function comparable(body: string): string {
  const { softwareversion: _version, ...event } = JSON.parse(body) as Record<string, unknown>
  return canonicalJson(event)
}
