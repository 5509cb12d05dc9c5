import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { REGISTER, run, scratch } from './support.js'

const { path, put } = scratch()
const register = put('register.yaml', REGISTER)

/** Readings of FE3-A stand still from noon on, a day long, while FE3-B goes on. */
function stream(): string {
  const lines: string[] = []
  for (let minute = 0; minute < 3 * 24 * 60; minute += 5) {
    const time = new Date(Date.UTC(2026, 4, 9) + minute * 60_000).toISOString()
    const wave = 0.08 + 0.01 * Math.sin(minute / 90)
    const b = Math.round(1_000 * (wave + 0.0008 * Math.sin(minute * 1.7))) / 1_000
    const a = minute < 12 * 60 ? Math.round(1_000 * (wave + 0.0008 * Math.cos(minute * 2.3))) / 1_000 : 0.0801
    for (const [analyzer, value] of [['FE3-A', a] as const, ['FE3-B', b] as const])
      lines.push(JSON.stringify({ kind: 'reading', analyzer, time, value, unit: 'NTU' }))
  }
  return lines.join('\n')
}

describe('visit-sheet', () => {
  const input = put('in.ndjson', stream())
  const sheet = (...args: string[]): ReturnType<typeof run> =>
    run(['visit-sheet', ...args, '--register', register, input])

  it('prints the sheet of an open request, and the page for print', async () => {
    const ran = await sheet('FE3-A')
    expect(ran.code).toBe(0)
    expect(ran.out).toMatch(/^FE3-A: Check the signal path\n/)
    expect(ran.out).toMatch(/^analyzer,time,action,visit,.*\nFE3-A,,maintenance_on,/m)
    expect(ran.out).toMatch(/^display, NTU +_{10}/m)
    const page = await sheet('FE3-A', '--html', path('sheet.html'))
    expect(page).toMatchObject({ code: 0, out: '', told: expect.stringContaining('written to') })
    expect(readFileSync(path('sheet.html'), 'utf8')).toMatch(/<h1>FE3-A: Check the signal path<\/h1>/)
  })

  it('says so where no visit is asked for, or nobody has that name', async () => {
    expect(await sheet('FE3-B')).toMatchObject({
      code: 3,
      told: expect.stringMatching(/FE3-B: no visit is asked for\. /),
    })
    expect(await sheet('FE9-A')).toMatchObject({
      code: 3,
      told: expect.stringContaining('no analyzer or recommendation'),
    })
  })
})
