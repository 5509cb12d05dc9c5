import { readdirSync, readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { FEED_KINDS } from '../../src/model/messages.js'
import { EVENT_TYPES } from '../../src/model/vocabulary.js'
import { run, scratch } from './support.js'

const { path, put } = scratch()

it('contract writes a schema for each message and event, and the document over them', async () => {
  const ran = await run(['contract', '--out', path('contract'), '--prefix', 'org.example'])
  expect(ran).toMatchObject({ code: 0, out: '' })
  const incoming = readdirSync(path('contract/schemas/in'))
  expect(incoming).toEqual(expect.arrayContaining(FEED_KINDS.map(kind => `${kind}.json`)))
  expect(readdirSync(path('contract/schemas/out'))).toEqual(
    [...EVENT_TYPES, 'service.status'].map(type => `${type}.json`).sort(),
  )
  const document = JSON.parse(readFileSync(path('contract/asyncapi.json'), 'utf8')) as { asyncapi: string }
  expect(document.asyncapi).toBe('3.0.0')
  expect(readFileSync(path('contract/schemas/out/work.confirmed.json'), 'utf8')).toContain('org.example.work.confirmed')
})

it('contract says which path cannot be written', async () => {
  const ran = await run(['contract', '--out', put('a-file', '')])
  expect(ran.code).toBe(1)
  expect(ran.told).toContain('a-file')
})
