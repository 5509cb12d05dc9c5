import { readFileSync } from 'node:fs'
import { gunzipSync } from 'node:zlib'
import { parse } from 'yaml'
import { checkRegister } from '../../../src/model/checkRegister.js'
import type { RegisterFile } from '../../../src/model/register.js'
import { DAY_MS } from '../../../src/model/time.js'

const SAMPLE = new URL('../../../sample-streams/', import.meta.url)

export function sampleRegister(): RegisterFile {
  const checked = checkRegister(parse(readFileSync(new URL('register.yaml', SAMPLE), 'utf8')) as unknown)
  if (!checked.ok) throw new Error('the sample register does not pass its check')
  return checked.file
}

/** In order of arrival, up to the first reading past the days wanted. */
export function sampleMessages(days: number): readonly unknown[] {
  const lines = gunzipSync(readFileSync(new URL('stream.ndjson.gz', SAMPLE)))
    .toString('utf8')
    .split('\n')
  const messages = lines.filter(line => line !== '').map(line => JSON.parse(line) as { kind: string; time?: string })
  const endMs = Date.parse(messages[0]?.time ?? '') + days * DAY_MS
  const end = messages.findIndex(one => one.kind === 'reading' && Date.parse(one.time ?? '') > endMs)
  return end < 0 ? messages : messages.slice(0, end)
}
