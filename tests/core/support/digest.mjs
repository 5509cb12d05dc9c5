/**
 * Walks a recording through a compiled core and prints what came of it: number of events and SHA-256 of their lines.
 * Usage: node digest.mjs DIST RECORDING, where RECORDING holds one message a line, the register first.
 */
import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { resolve } from 'node:path'
import { pathToFileURL } from 'node:url'

const [dist = '', recording = ''] = process.argv.slice(2)
const load = path => import(pathToFileURL(resolve(dist, path)).href)
const { createPlantState, step } = await load('core/step.js')
const { dueTick } = await load('core/eventClock.js')
const { canonicalJson } = await load('model/canonicalJson.js')
const { toCloudEvent } = await load('model/cloudEvent.js')

const hash = createHash('sha256')
let events = 0
let state
const take = message => {
  const stepped = step(state, { feed: 'file', message })
  state = stepped.state
  for (const event of stepped.events) {
    events += 1
    hash.update(`${canonicalJson(toCloudEvent(event, 'turbidrift'))}\n`)
  }
}
for (const line of readFileSync(recording, 'utf8').split('\n')) {
  if (line === '') continue
  const message = JSON.parse(line)
  state ??= createPlantState(message.body.plant)
  take(message)
  for (let due = dueTick(state); due !== undefined; due = dueTick(state)) take(due)
}
process.stdout.write(`${JSON.stringify({ events, sha256: hash.digest('hex') })}\n`)
