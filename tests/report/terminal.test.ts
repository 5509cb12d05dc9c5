import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { renderExplanationText } from '../../src/report/terminal/explanationText.js'
import { openRecommendationsTable } from '../../src/report/terminal/openRecommendationsTable.js'
import { renderStatusTable } from '../../src/report/terminal/statusTable.js'
import { wrapText } from '../../src/report/terminal/wrap.js'
import {
  calmExplanation,
  openExplanation,
  recommendationData,
  STATUS_SUMMARY,
  statusData,
  SUMMARY,
} from './explanationFixture.js'

const LONGEST_NAME = `Q${'x'.repeat(63)}`

function widest(text: string): number {
  return Math.max(...text.split('\n').map(line => Array.from(line).length))
}

/** Text as one line, frames taken away. */
function unwrapped(text: string): string {
  return text.replace(/[│┌┐└┘├┤┬┴┼─]/g, ' ').replace(/\s+/g, ' ')
}

describe('explanation in the terminal', () => {
  it('goes from the sentence to the steps, the numbers, what was left out and the reasons', () => {
    const text = renderExplanationText(openExplanation())
    const flat = unwrapped(text)
    const places = [
      SUMMARY,
      'WHAT TO DO',
      'Respond by 20 May 2026, 14:00 UTC (15:00 Europe/London).',
      'Local codes, site procedures',
      'Caution: Close the inlet',
      'expired 2026-05-12: do not use it',
      ' 1. Tell the control room',
      'NUMBERS',
      'Bias −0.039 NTU, 95 % interval −0.046 to −0.031 NTU',
      'Causes: zero drift 0.93, a film on the window 0.05, span drift 0.02',
      'LINES OF EVIDENCE',
      'ANALYZER AGAINST GRAB SAMPLES',
      'Zero −0.012 NTU, 95 % interval −0.030 to +0.005 NTU',
      'rests on the charts and on the explanations that were weighed, not on this line',
      'LEFT OUT',
      '96 point not in service',
      'WHY IT IS ASKED',
      'met: P(bias beyond half a tolerance) is 0.90 or more: 0.99',
      'Nearest to changing the answer: Four grabs',
    ].map(part => flat.indexOf(part))
    expect(places.every(place => place >= 0)).toBe(true)
    expect(places).toEqual([...places].sort((a, b) => a - b))
    expect(widest(text)).toBeLessThanOrEqual(100)
  })

  it('shows each line with values, difference, sum and limit, or why it is silent', () => {
    const text = renderExplanationText(openExplanation())
    expect(text).toMatch(/│ Second unit, FE3-A +│ 239 +│ −0\.\d{3} +│ low side 12\.8, limit +│ 24 × no usable/)
    expect(text).toContain('Verification, D-1001: no verification in the last 10 days')
  })

  it('says how finely three units measure, and of which it is not known', () => {
    const precision = [
      { analyzer: 'CFE-A', ofTolerance: 0.031 },
      { analyzer: 'CFE-B', ofTolerance: 0.05 },
      { analyzer: 'CFE-C', ofTolerance: null },
    ]
    expect(unwrapped(renderExplanationText(calmExplanation({ precision })))).toContain(
      'Precision from three units in tolerances: CFE-A 0.031, CFE-B 0.050, CFE-C not told apart from 0',
    )
    expect(renderExplanationText(calmExplanation())).not.toContain('Precision')
  })

  it('says why not where nothing is open', () => {
    const flat = unwrapped(renderExplanationText(calmExplanation()))
    expect(flat.startsWith(STATUS_SUMMARY)).toBe(true)
    expect(flat).toContain(
      'Nothing is asked for this analyzer now. Missing: A verification: the last one is 41 days old.',
    )
    expect(flat).toContain('not met: A chart is beyond its limit: grab samples 1.2 of 6.4, FE3-A 0.8 of 6.4')
    expect(flat.indexOf('WHY NOTHING IS ASKED')).toBeLessThan(flat.indexOf('NUMBERS'))
  })

  it('stays within 100 columns with the longest names and lets no control character through', () => {
    const text = renderExplanationText(
      openExplanation({
        analyzer: LONGEST_NAME,
        pointName: '\u001b[31mred\u0007 \u202egnorw',
        nearest: 'w'.repeat(350),
        lines: openExplanation().lines.map(line => ({ ...line, against: LONGEST_NAME })),
      }),
    )
    expect(widest(text)).toBeLessThanOrEqual(100)
    expect(text).not.toMatch(/[\u0000-\u0009\u000b-\u001f\u007f-\u009f\u202e]/)
  })
})

describe('status in the terminal', () => {
  it('has a row for each analyzer and the open requests with their ids', () => {
    const text = renderStatusTable({
      at: '2026-05-19T06:00:00Z',
      analyzers: [
        statusData({ analyzer: LONGEST_NAME, findings: ['stuck', 'bubbles'], assessment: 'signal_fault' }),
        statusData({ analyzer: 'CFE-A' }),
      ],
      open: [recommendationData()],
    })
    expect(text.startsWith('As of 19 May 2026, 06:00 UTC\n')).toBe(true)
    expect(text).toMatch(/│ CFE-A +│ consistent +│ −0\.08 \(−0\.24 to \+0\.08\) │ 2 May 2026/)
    expect(text).toContain('signal fault')
    expect(unwrapped(text)).toContain(SUMMARY)
    expect(text).toContain('[5b0c3a52-7d1e-5c55-9a57-0f2f5c1f6a10]')
    expect(widest(text)).toBeLessThanOrEqual(100)
  })

  it('has the most urgent request first, then the earliest', () => {
    const table = openRecommendationsTable([
      recommendationData({ target: { analyzer: 'LATE-SOON' }, urgency: 'soon', respondBy: '2026-05-22T00:00:00Z' }),
      recommendationData({ target: { analyzer: 'ROUTINE' }, urgency: 'routine', respondBy: '2026-05-19T00:00:00Z' }),
      recommendationData({ target: { analyzer: 'EARLY-SOON' }, urgency: 'soon', respondBy: '2026-05-21T00:00:00Z' }),
      recommendationData({ target: { analyzer: 'NOW' }, urgency: 'now', respondBy: '2026-05-23T00:00:00Z' }),
    ])
    const places = ['│ NOW ', '│ EARLY-SOON ', '│ LATE-SOON ', '│ ROUTINE '].map(name => table.indexOf(name))
    expect(places.every(place => place >= 0)).toBe(true)
    expect(places).toEqual([...places].sort((a, b) => a - b))
  })

  it('says so when nothing is asked', () => {
    expect(openRecommendationsTable([])).toBe('Nothing is asked of anybody now.')
  })

  it('names the point or the laboratory where the request is for them', () => {
    expect(openRecommendationsTable([recommendationData({ target: { point: 'FE3' } })])).toContain('point FE3')
    expect(
      unwrapped(openRecommendationsTable([recommendationData({ target: { laboratoryInstrument: 'LAB-1' } })])),
    ).toContain('laboratory')
  })
})

describe('wrapText', () => {
  it('keeps every word, in order, within the width', () => {
    fc.assert(
      fc.property(
        fc.array(fc.stringMatching(/^[a-z]{1,30}$/), { minLength: 1, maxLength: 40 }),
        fc.integer({ min: 10, max: 100 }),
        (words, width) => {
          const wrapped = wrapText(words.join(' '), width)
          expect(widest(wrapped)).toBeLessThanOrEqual(width)
          expect(wrapped.replace(/[ \n]/g, '')).toBe(words.join(''))
        },
      ),
      { seed: 20260519, numRuns: 200 },
    )
  })
})
