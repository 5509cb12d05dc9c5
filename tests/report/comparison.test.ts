import { describe, expect, it } from 'vitest'
import type { GrabComparison } from '../../src/core/explainComparison.js'
import { comparisonFacts, comparisonRemarks } from '../../src/report/comparison.js'
import { renderEvidencePage } from '../../src/report/evidencePage.js'
import { comparisonPicture } from '../../src/report/pictures/comparisonPicture.js'
import { regionPicture } from '../../src/report/pictures/regionPicture.js'
import { scaleOf } from '../../src/report/pictures/valueAxes.js'
import { calmExplanation, comparisonData } from './explanationFixture.js'

const textOf = (comparison: GrabComparison) =>
  [
    ...comparisonFacts(comparison).map(({ label, value }) => `${label}: ${value}`),
    ...comparisonRemarks(comparison),
  ].join('\n')

/** Without what only a wide enough range of the water tells. */
function narrow(): GrabComparison {
  const { told: _told, ...line } = comparisonData().line!
  return comparisonData({ line: { ...line, spanRel: { value: 0.12, ci95: [-0.31, 0.55] } } })
}

function withoutLine(change: Partial<GrabComparison>): GrabComparison {
  const { line: _line, ...rest } = comparisonData()
  return { ...rest, ...change }
}

/** Texts and points of the marks of one picture, wide. */
function wide(svg: string): string {
  return /<svg class="wide"[^>]*>([^]*?)<\/svg>/.exec(svg)![1]!
}

describe('the comparison with grab samples in words', () => {
  it('gives zero, span and the bias at the level with their intervals, since when and from where to where', () => {
    const text = textOf(comparisonData())
    expect(text).toMatch(
      /^Grab samples: 19 used, from 0\.0\d\d to 0\.1\d\d NTU, since the adjusting work of 28 Apr 2026, 10:00 UTC$/m,
    )
    expect(text).toContain('Zero: −0.012 NTU, 95 % interval −0.030 to +0.005 NTU')
    expect(text).toContain('Span: +7.1 %, 95 % interval −9.6 to +23.8 %')
    expect(text).toContain('Bias by the line at 0.106 NTU: −0.005 NTU, 95 % interval −0.010 to 0.000 NTU')
    expect(text).toContain('variance 1.4 times what the uncertainties explain; the intervals are widened for it')
    expect(text).toContain('Grab values are shifted here by +0.003 NTU')
    expect(text).toContain('What is asked rests on the charts')
  })

  it('says whether no error lies inside the joint region', () => {
    const { line } = comparisonData()
    const saying = (readsRight: boolean) =>
      textOf(comparisonData({ line: { ...line!, told: { ...line!.told!, readsRight } } }))
    expect(saying(true)).toMatch(/^Reads right: yes, .* together lie inside the joint 95 % region$/m)
    expect(saying(false)).toMatch(/^Reads right: no: .* together lie outside the joint 95 % region; /m)
  })

  it('says plainly that a narrow range does not tell zero from span, and answers nothing else there', () => {
    const text = textOf(narrow())
    expect(text).toMatch(/The water ranged only from 0\.0\d\d to 0\.1\d\d NTU, too narrow to tell zero from span/)
    expect(text).toContain('the span is known to ± 43 % at best')
    expect(text).toContain('Reads right: not told: the range of the water is too narrow')
    expect(text).not.toMatch(/Bias by the line|inside|outside/)
    expect(textOf(comparisonData())).not.toContain('too narrow')
  })

  it('says what is missing where there is no line, and how many results are bounds', () => {
    const text = textOf(withoutLine({ pairs: [], bounds: 3, missing: 'needs at least 5 grab samples, has 0' }))
    expect(text).toContain('No line: needs at least 5 grab samples, has 0')
    expect(text).toContain('Grab samples: 0 used, since the adjusting work')
    expect(text).toContain('; without 3 reported as above or below a bound')
    expect(text).not.toMatch(/Zero|Span|shifted|NaN|Infinity/)
  })
})

describe('the pictures of the comparison', () => {
  it('hold every pair, equal values, the tolerance on both sides and the line', () => {
    const picture = comparisonPicture('FE3-B', comparisonData())!
    expect(picture.svg).toContain('FE3-B over 19 grab samples in NTU: the line has zero −0.012 NTU and span +7.1 %.')
    expect(picture.legend.map(({ text }) => text)).toEqual(['grab sample', 'equal', 'tolerance', 'fitted line'])
    const lines = [
      ...wide(picture.svg).matchAll(/<path d="M[^"]*" fill="none" stroke="(#[^"]*)"[^>]*stroke-width="([\d.]+)"/g),
    ]
    expect(lines.filter(([, color, width]) => color === '#0072B2' && width === '2.5')).toHaveLength(1)
    expect(wide(picture.svg).match(/stroke-dasharray/g)).toHaveLength(2)
    expect(picture.svg).not.toMatch(/NaN|Infinity/)
  })

  it('show the region with its edge closed, the fitted line and no error', () => {
    const picture = regionPicture('FE3-B', comparisonData())!
    expect(picture.svg).toContain('no error at all lies inside their joint 95 % region')
    expect(regionPicture('FE3-B', narrow())!.svg).toContain('too narrow to tell them apart')
    const edge = /<path d="M([^"]*)" fill="none" stroke="#0072B2"/
      .exec(wide(picture.svg))![1]!
      .match(/-?[\d.]+ -?[\d.]+/g)!
    expect(edge).toHaveLength(9)
    expect(edge.at(-1)).toBe(edge[0])
  })

  it('are left out where there is nothing to draw', () => {
    expect(comparisonPicture('FE3-B', withoutLine({ pairs: [] }))).toBeUndefined()
    expect(regionPicture('FE3-B', withoutLine({}))).toBeUndefined()
    expect(comparisonPicture('FE3-B', withoutLine({}))!.svg).toContain('in NTU: no line.')
  })

  it('drop the bars of very many pairs', () => {
    const pairs = Array.from({ length: 61 }, (_, i) => ({ ...comparisonData().pairs[i % 19]! }))
    expect(comparisonPicture('FE3-B', comparisonData())!.caption).toContain('Bars are twice')
    const many = comparisonPicture('FE3-B', comparisonData({ pairs }))!
    expect(many.caption).not.toContain('Bars are twice')
    expect(many.svg.length).toBeLessThan(comparisonPicture('FE3-B', comparisonData())!.svg.length * 3)
  })

  it('stand in a page without a line', () => {
    const html = renderEvidencePage(
      calmExplanation({ comparison: withoutLine({ pairs: [], missing: 'needs at least 5 grab samples, has 0' }) }),
    )
    expect(html).toContain('<dt>No line</dt><dd>needs at least 5 grab samples, has 0</dd>')
    expect(html).not.toMatch(/NaN|undefined|Infinity/)
  })
})

describe('the scale of a quantity', () => {
  it.each([
    ['from zero', [0.04, 0.17], { min: 0, max: 0.2, interval: 0.05 }],
    ['below zero where values are', [-0.02, 0.17], { min: -0.05, max: 0.2, interval: 0.05 }],
    ['without a zero far below', [21.2, 24.4], { min: 21, max: 25, interval: 1 }],
    ['of zero alone', [0, 0], { min: 0, max: 0.001, interval: 0.001 }],
    ['below zero alone', [-3, -1], { min: -3, max: 0, interval: 1 }],
  ])('runs %s', (_, values, scale) => {
    expect(scaleOf(values)).toEqual(scale)
  })
})
