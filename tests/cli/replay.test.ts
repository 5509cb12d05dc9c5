import { readFileSync } from 'node:fs'
import { gzipSync } from 'node:zlib'
import { describe, expect, it } from 'vitest'
import { simulatePlant } from '../../src/simulate/simulatePlant.js'
import { run, scratch } from './support.js'

const { path, put } = scratch()
const simulation = simulatePlant({ seed: 3, days: 4 })
const register = put('register.yaml', simulation.registerYaml)
const stream = put('stream.ndjson', [...simulation.messages].join('\n'))
const read = (name: string): string => readFileSync(path(name), 'utf8')

describe('replay', () => {
  it('gives the same bytes again, from plain and packed input, from one file and from two', async () => {
    const text = read('stream.ndjson')
    const half = text.indexOf('\n', text.length / 2)
    const packed = put('stream.ndjson.gz', '')
    const { writeFileSync } = await import('node:fs')
    writeFileSync(packed, gzipSync(text))
    const inputs = [[stream], [packed], [put('a.ndjson', text.slice(0, half)), put('b.ndjson', text.slice(half))]]
    const outputs: string[] = []
    for (const [index, input] of inputs.entries()) {
      const out = `events-${index}.ndjson`
      const ran = await run(['replay', '--register', register, ...input, '--out', path(out)])
      expect(ran.code).toBe(0)
      outputs.push(read(out))
    }
    expect(outputs[0]!.split('\n').length).toBeGreaterThan(50)
    expect(outputs[1]).toBe(outputs[0])
    expect(outputs[2]).toBe(outputs[0])
  })

  it('writes a store whose journal, replayed, gives the same events; status and explain read it', async () => {
    const into = path('plant.db')
    const first = await run(['replay', '--register', register, stream, '--into', into, '--out', path('live.ndjson')])
    expect(first).toMatchObject({ code: 0 })
    expect(await run(['export-journal', '--store', into, '--out', path('journal.ndjson.gz')])).toMatchObject({
      code: 0,
    })
    const again = await run(['replay', path('journal.ndjson.gz'), '--out', path('again.ndjson')])
    expect(again).toMatchObject({ code: 0 })
    expect(read('again.ndjson')).toBe(read('live.ndjson'))

    expect(await run(['replay', '--register', register, stream, '--into', into])).toMatchObject({ code: 1 })
    const status = await run(['status', '--store', into])
    const lines = status.out
      .trimEnd()
      .split('\n')
      .map(line => JSON.parse(line) as Record<string, unknown>)
    expect(lines[0]).toMatchObject({ plant: 'hollin-weir', counts: { rejected: 0 } })
    expect(lines.filter(line => 'assessment' in line).map(line => line.analyzer)).toContain('FE3-B')
    expect(await run(['status', '--register', register, stream])).toEqual({ ...status, told: expect.any(String) })

    const page = await run(['explain', 'CFE-A', '--store', into, '--html', '-'])
    expect(page.out).toMatch(/^<!doctype html>/)
    const earlier = ['explain', 'CFE-A', '--at', '2026-04-02T12:00:00Z']
    const fromStore = await run([...earlier, '--store', into])
    expect(JSON.parse(fromStore.out)).toMatchObject({ analyzer: 'CFE-A', atMs: Date.parse('2026-04-02T12:00:00Z') })
    expect((await run([...earlier, '--register', register, stream])).out).toBe(fromStore.out)
    expect(await run(['explain', 'NONE-A', '--store', into])).toMatchObject({ code: 3 })
  })

  it('lets ticks of the input move plant time, and only them', async () => {
    const lines = ['{"kind":"tick","time":"2026-04-01T00:00:00Z"}']
      .concat(read('stream.ndjson').split('\n').slice(0, 500))
      .concat('{"kind":"tick","time":"2026-04-01T06:00:00Z"}')
    const input = put('ticked.ndjson', lines.join('\n'))
    const ticked = await run(['status', '--register', register, input])
    expect(JSON.parse(ticked.out.split('\n')[0]!)).toMatchObject({ at: '2026-04-01T06:00:00Z' })
    const event = await run(['status', '--register', register, input, '--ticks', 'event'])
    const { at } = JSON.parse(event.out.split('\n')[0]!) as { at: string }
    expect(at < '2026-04-01T06:00:00Z').toBe(true)
  })

  it.each([
    [['replay'], 2, 'nothing to read'],
    [['replay', 'none.ndjson'], 1, 'there is no such file'],
    [['replay', '--register', 'none.yaml', 'x'], 1, 'none.yaml: there is no such file'],
    [['replay', '--ticks', 'wall', 'x'], 2, 'Allowed choices are auto, event, recorded'],
    [['status', '--at', 'yesterday'], 2, 'must be a time with offset'],
    [['status', '--store', 'none.db'], 3, 'there is no such file'],
    [['explain'], 2, "missing required argument 'subject'"],
    [['simulate', '--seed', '1.5', '--out', 'x'], 2, 'must be a whole number'],
    [['nosuch'], 2, "unknown command 'nosuch'"],
  ])('%j ends with %i: %s', async (args, code, sentence) => {
    const ran = await run(args)
    expect(ran.code).toBe(code)
    expect(ran.told).toContain(sentence)
  })

  it('says where events cannot be written', async () => {
    const blocked = put('file', 'not a folder')
    const ran = await run(['replay', '--register', register, stream, '--out', `${blocked}/events.ndjson`])
    expect(ran).toMatchObject({ code: 1, out: '' })
    expect(ran.told).toMatch(/file: a (part of its path|file)/)
  })

  it('says that a record needs a register', async () => {
    const ran = await run(['replay', stream])
    expect(ran).toMatchObject({ code: 2 })
    expect(ran.told).toContain('there is no register')
  })
})

describe('a record in which nothing came', () => {
  it.each(['status', 'explain'])('%s shows what is not assessed', async command => {
    const empty = put('empty.ndjson', '')
    const subject = command === 'explain' ? ['FE3-B'] : []
    const ran = await run([command, ...subject, '--register', register, empty, '--format', 'table'])
    expect(ran.code).toBe(0)
    expect(ran.out).toContain('Nothing has been assessed yet')
    expect(ran.out).not.toContain('1970')
    const before = await run([command, ...subject, '--register', register, stream, '--at', '2020-01-01T00:00:00Z'])
    expect(before).toMatchObject({ code: 3, out: '' })
  })
})
