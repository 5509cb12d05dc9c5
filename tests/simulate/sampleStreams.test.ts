import { createHash } from 'node:crypto'
import { readFileSync, statSync } from 'node:fs'
import { gunzipSync } from 'node:zlib'
import { describe, expect, it } from 'vitest'
import { simulatePlant } from '../../src/simulate/simulatePlant.js'

const FOLDER = new URL('../../sample-streams/', import.meta.url)
const simulation = simulatePlant({ seed: 7 })

// Compared as text: compressed bytes may differ between versions of zlib.
describe('sample-streams', () => {
  it('holds the stream that its seed gives, byte for byte', () => {
    const fresh = createHash('sha256')
    for (const line of simulation.messages) fresh.update(`${line}\n`)
    const kept = createHash('sha256').update(gunzipSync(readFileSync(new URL('stream.ndjson.gz', FOLDER))))
    expect(kept.digest('hex')).toBe(fresh.digest('hex'))
  })

  it('holds the register and the truth of that run', () => {
    expect(readFileSync(new URL('register.yaml', FOLDER), 'utf8')).toBe(simulation.registerYaml)
    expect(readFileSync(new URL('truth.json', FOLDER), 'utf8')).toBe(simulation.truthJson)
  })

  it('stays under 5 MB', () => {
    const files = ['stream.ndjson.gz', 'register.yaml', 'truth.json']
    expect(files.reduce((sum, file) => sum + statSync(new URL(file, FOLDER)).size, 0)).toBeLessThan(5_000_000)
  })

  it('is described with the seed it was made from', () => {
    expect(readFileSync(new URL('README.md', FOLDER), 'utf8')).toContain(
      'turbidrift simulate --seed 7 --out sample-streams',
    )
  })
})
