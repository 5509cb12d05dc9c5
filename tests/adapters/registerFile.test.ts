import { describe, expect, it } from 'vitest'
import { parseRegister, readRegisterFile } from '../../src/adapters/registerFile.js'

const good = `plant: hollin-weir
points:
  CFE:
    analyzers:
      CFE-A: { unit: NTU }
`

function problems(text: string): readonly string[] {
  const read = parseRegister(text, 'register.yaml')
  return read.ok ? [] : read.problems
}

describe('reading register.yaml', () => {
  it('reads a good one, as YAML or as JSON, with byte-order mark or CRLF', () => {
    const file = { plant: 'hollin-weir', points: { CFE: { analyzers: { 'CFE-A': { unit: 'NTU' } } } } }
    for (const text of [good, `\ufeff${good}`, good.replaceAll('\n', '\r\n'), JSON.stringify(file)]) {
      expect(parseRegister(text, 'register.yaml')).toMatchObject({ ok: true, file, warnings: [] })
    }
  })

  it('shows every mistake at once, in the order of the file, each at its place', () => {
    const text = `plant: 7plants
points:
  CFE:
    class: filter
    colour: blue
    analyzers:
      CFE-A: { unit: ntu, rangeNtu: [10, 0] }
      CFE-B: {}
related:
  - { downstream: CFE, upstream: [FE9] }
`
    expect(problems(text).map(problem => problem.slice(0, 60))).toEqual([
      'register.yaml:1:8 plant: "7plants" is refused: must be a let',
      'register.yaml:5:13 points.CFE.colour: "blue" is refused: is ',
      'register.yaml:7:22 points.CFE.analyzers.CFE-A.unit: "ntu" is',
      'register.yaml:8:7 points.CFE.analyzers.CFE-B.unit: nothing i',
    ])
    const mended = text
      .replace('7plants', 'plant')
      .replace('    colour: blue\n', '')
      .replace('ntu', 'NTU')
      .replace('{}', '{unit: NTU}')
    expect(problems(mended).map(problem => problem.replace(/ is refused.*/, ''))).toEqual([
      'register.yaml:4:12 points.CFE.class: "filter"',
      'register.yaml:6:27 points.CFE.analyzers.CFE-A.rangeNtu: [10,0]',
      'register.yaml:9:24 related.0.upstream: "FE9"',
    ])
  })

  it.each([
    ['a key given twice', `${good}plant: other\n`, /register\.yaml:6:1 Map keys must be unique/],
    ['broken YAML', 'plant: [a\n', /^register\.yaml:2:1 /],
    ['an empty file', '', /^register\.yaml:1:1 register: null is refused/],
    ['text', 'hello', /^register\.yaml:1:1 register: "hello" is refused/],
    ['a point named __proto__', good.replace('CFE:', '__proto__:'), /__proto__/],
    ['an analyzer named constructor', good.replace('CFE-A:', 'constructor:'), /constructor/],
    [
      'aliases that grow without end',
      `a: &a [x,x,x,x,x,x,x,x,x,x]\nb: &b [*a,*a,*a,*a,*a,*a,*a,*a,*a,*a]\nc: &c [*b,*b,*b,*b,*b,*b,*b,*b,*b,*b]\nd: [*c,*c,*c,*c,*c]\n`,
      /alias/i,
    ],
  ])('refuses %s', (_, text, problem) => {
    const found = problems(text)
    expect(found.length).toBeGreaterThan(0)
    expect(found.join('\n')).toMatch(problem)
    expect(({} as Record<string, unknown>).analyzers).toBeUndefined()
  })

  it('warns of what is unusual', () => {
    const text = `${good}standards: [{ id: D-1, type: secondary_standard, analyzer: CFE-A, assignedNtu: 4.2 }]\n`
    const read = parseRegister(text, 'register.yaml')
    expect(read.ok && read.warnings).toEqual([
      'register.yaml:6:80 standards.0.assignedNtu: 4.2 is outside the usual 30 to 40 NTU (common practice, no source)',
    ])
  })

  it('says which file is not there', async () => {
    expect(await readRegisterFile('none.yaml')).toEqual({ ok: false, problems: ['none.yaml: there is no such file'] })
  })
})
