import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { DatabaseSync } from '@photostructure/sqlite'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { prepareSchema } from '../../src/adapters/sqliteSchema.js'
import { openStore, type Store, type StoreBatch } from '../../src/adapters/sqliteStore.js'
import { REJECTS_KEPT } from '../../src/adapters/sqliteWrite.js'

let folder: string
let path: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'turbidrift-store-'))
  path = join(folder, 'plant.db')
})
afterEach(() => rmSync(folder, { recursive: true, force: true }))

describe('store', () => {
  it('keeps a batch as a whole: journal, positions, events, rejects, state', () => {
    const store = open()
    store.commit(
      batch(1, 3, {
        positions: new Map([['files', 'a.csv:3']]),
        events: [event('e1', 'one'), event('e2', 'two')],
        rejects: [{ seq: 2, feed: 'site', position: 'x@1', faults: [FAULT], excerpt: '{' }],
        state: new Map([['plant', '{}']]),
        meta: new Map([['register_hash', 'abc']]),
      }),
    )
    store.close()
    const again = open()
    expect([...again.journalAfter(0)].map(row => row.seq)).toEqual([1, 2, 3])
    expect(again.position('files')).toBe('a.csv:3')
    expect(again.outboxAfter(0, 10).map(row => row.id)).toEqual(['e1', 'e2'])
    expect(again.rejects(10)).toEqual([{ seq: 2, feed: 'site', position: 'x@1', faults: [FAULT], excerpt: '{' }])
    expect(again.rejectedTotal()).toBe(1)
    expect(again.stateRows()).toEqual(new Map([['plant', '{}']]))
    expect(again.stateSeq()).toBe(3)
    expect(again.meta('register_hash')).toBe('abc')
    again.close()
  })

  it('hands out events of a written batch only when a power cut could not undo it', async () => {
    const store = open()
    store.commit(batch(1, 1, { events: [event('e1', 'one')] }))
    store.write(batch(2, 2, { events: [event('e2', 'two')] }))
    const ids = () => store.outboxAfter(0, 10).map(row => row.id)
    expect(store.lastSeq()).toBe(2)
    expect(ids()).toEqual(['e1'])
    const synced = new Promise(resolve => {
      store.synced(resolve)
    })
    store.write(batch(3, 3, { events: [event('e3', 'three')] }))
    expect(await synced).toBeUndefined()
    expect(ids()).toEqual(['e1', 'e2'])
    store.close()
    const again = open()
    expect(again.outboxAfter(0, 10).map(row => row.id)).toEqual(['e1', 'e2', 'e3'])
    again.close()
  })

  it('leaves nothing of a batch that fails half-way', () => {
    const store = open()
    store.commit(batch(1, 2))
    const broken = batch(3, 4, {
      events: [event('e1', 'one'), event('e2', null as unknown as string)],
      state: new Map([['plant', 'new']]),
    })
    expect(() => store.commit(broken)).toThrow()
    expect(store.lastSeq()).toBe(2)
    expect(store.outboxAfter(0, 10)).toEqual([])
    expect(store.stateSeq()).toBe(0)
    store.commit(batch(3, 4, { state: new Map([['plant', 'new']]) }))
    expect(store.stateRows()).toEqual(new Map([['plant', 'new']]))
    store.close()
  })

  it('takes the repetition of a batch that was written after all as written', () => {
    const store = open()
    const once = batch(1, 2, { events: [event('e1', 'one')] })
    store.commit(once)
    store.commit(once)
    expect(store.lastSeq()).toBe(2)
    expect(store.outboxAfter(0, 10)).toHaveLength(1)
    store.close()
  })

  it('refuses a second writer instead of weaving two journals', () => {
    const one = open()
    const two = open()
    one.commit(batch(1, 2))
    expect(() => two.commit(batch(1, 1))).toThrow('another process writes to this store')
    one.close()
    two.close()
  })

  it('writes an event id once and names the ones that came again with other content', () => {
    const store = open()
    store.commit(batch(1, 1, { events: [event('e1', 'one'), event('e2', 'two')] }))
    const { differing } = store.commit(
      batch(2, 2, { events: [event('e1', 'one', '0.2.0'), event('e2', 'changed'), event('e3', 'three')] }),
    )
    expect(differing).toEqual(['e2'])
    expect(store.outboxAfter(0, 10).map(row => (JSON.parse(row.body) as { data: string }).data)).toEqual([
      'one',
      'two',
      'three',
    ])
    store.close()
  })

  it('rewrites only the rows of the state that changed, and all rows are of one journal number', () => {
    const store = open()
    store.commit(batch(1, 1, { state: rows({ a: '1', b: '1', c: '1' }) }))
    store.commit(batch(2, 5, { state: rows({ a: '1', b: '2' }) }))
    const raw = new DatabaseSync(path, { readOnly: true })
    const seqs = raw.prepare('SELECT key, seq FROM state ORDER BY key').all()
    raw.close()
    expect(seqs).toMatchObject([
      { key: 'a', seq: 1 },
      { key: 'b', seq: 5 },
    ])
    expect(store.stateSeq()).toBe(5)
    store.close()
    const again = open()
    again.commit(batch(6, 6, { state: rows({ a: '1', b: '2' }) }))
    expect(again.stateSeq()).toBe(6)
    again.close()
  })

  it('keeps one cursor for each sink', () => {
    const store = open()
    store.commit(batch(1, 1, { events: [event('e1', 'one'), event('e2', 'two')] }))
    store.moveCursor('ndjson', 2)
    expect(store.cursor('ndjson')).toBe(2)
    expect(store.cursor('mqtt')).toBe(0)
    store.moveCursor('mqtt', 1)
    expect(store.outboxAfter(store.cursor('mqtt'), 10).map(row => row.id)).toEqual(['e2'])
    store.close()
  })

  it('counts an event set aside once, and makes the table in a store of an earlier release', () => {
    open().close()
    const earlier = new DatabaseSync(path)
    earlier.exec('DROP TABLE set_aside')
    earlier.close()
    const store = open()
    expect(store.newestEvent()).toBe(0)
    store.commit(batch(1, 1, { events: [event('e1', 'one'), event('e2', 'two')] }))
    expect(store.newestEvent()).toBe(2)
    for (const reason of ['400', '422']) store.setAside('webhook:one', 1, reason)
    store.setAside('webhook:two', 1, '400')
    store.close()
    const again = open()
    expect(again.setAsideTotal('webhook:one')).toBe(1)
    expect(again.setAsideTotal('mqtt')).toBe(0)
    again.close()
  })

  it('finds the newest event of a type for each subject', () => {
    const store = open()
    const status = (id: string, subject: string) => ({ ...event(id, id), type: 'analyzer.status', subject })
    store.commit(batch(1, 1, { events: [status('e1', 'A'), status('e2', 'B'), status('e3', 'A'), event('e4', 'x')] }))
    expect(store.newestPerSubject('analyzer.status').map(row => row.id)).toEqual(['e2', 'e3'])
    store.close()
  })

  it('forgets the oldest refused messages but goes on counting them', () => {
    const store = open()
    for (const from of [1, 6_001]) {
      const refused = batch(from, from + 5_999)
      const rejects = refused.journal.map(row => ({ seq: row.seq, feed: 'site', faults: [FAULT], excerpt: '' }))
      store.commit({ ...refused, rejects })
    }
    expect(store.rejectedTotal()).toBe(12_000)
    expect(store.rejects(20_000)).toHaveLength(REJECTS_KEPT)
    expect(store.rejects(1)[0]?.seq).toBe(12_000)
    store.close()
  })

  it('reads a journal of many pages in order while it is being written', () => {
    const store = open()
    store.commit(batch(1, 2_500))
    const seen: number[] = []
    for (const row of store.journalAfter(10)) {
      if (row.seq === 1_500) store.commit(batch(2_501, 2_502))
      seen.push(row.seq)
    }
    expect(seen).toEqual(Array.from({ length: 2_492 }, (_, i) => i + 11))
    store.close()
  })

  it('sets the log and the synchronisation that a power cut asks for', () => {
    const db = new DatabaseSync(path)
    expect(prepareSchema(db, 'hollin-weir')).toBeUndefined()
    expect(db.prepare('PRAGMA journal_mode').get()).toEqual({ journal_mode: 'wal' })
    // SQLite documentation, pragma synchronous: 2 is FULL.
    expect(db.prepare('PRAGMA synchronous').get()).toEqual({ synchronous: 2 })
    db.close()
  })

  it('says why a file is not the store', () => {
    open().close()
    expect(openStore(path, 'other')).toEqual({
      ok: false,
      problem: `${path} belongs to plant hollin-weir, not to other`,
    })
    const raw = new DatabaseSync(path)
    raw.exec("UPDATE meta SET value = '99' WHERE key = 'store_version'")
    raw.close()
    expect(openStore(path, 'hollin-weir')).toEqual({
      ok: false,
      problem: `${path} has tables of version 99, this release reads 1`,
    })
    const text = join(folder, 'text.db')
    writeFileSync(text, 'this is a text file and no database at all, whatever its name says\n'.repeat(50))
    expect(openStore(text, 'hollin-weir')).toMatchObject({ ok: false })
    expect(openStore(join(folder, 'absent.db'), undefined, { readOnly: true })).toMatchObject({ ok: false })
  })

  it('lets others read while the service writes', () => {
    const store = open()
    store.commit(batch(1, 2))
    const opened = openStore(path, undefined, { readOnly: true })
    if (!opened.ok) throw new Error(opened.problem)
    store.commit(batch(3, 3))
    expect(opened.store.lastSeq()).toBe(3)
    expect(() => opened.store.commit(batch(4, 4))).toThrow()
    opened.store.close()
    store.close()
  })
})

const FAULT = { code: 'malformed_json', field: '', value: '"{"', rule: 'must be one whole JSON value' } as const

function open(): Store {
  const opened = openStore(path, 'hollin-weir')
  if (!opened.ok) throw new Error(opened.problem)
  return opened.store
}

function batch(from: number, to: number, more: Partial<StoreBatch> = {}): StoreBatch {
  const journal = Array.from({ length: to - from + 1 }, (_, i) => ({ seq: from + i, input: `{"n":${from + i}}` }))
  return { journal, positions: new Map(), events: [], rejects: [], ...more }
}

function event(id: string, data: string, version = '0.1.0') {
  const body = data === (null as unknown) ? data : JSON.stringify({ id, softwareversion: version, data })
  return { id, type: 'analyzer.finding', subject: 'CFE/CFE-A', body }
}

function rows(of: Record<string, string>): Map<string, string> {
  return new Map(Object.entries(of))
}
