import { describe, expect, it, vi } from 'vitest'
import { recommendationSchema, statusSchema } from '../../src/model/events.js'
import { EXCLUSIONS } from '../../src/model/vocabulary.js'
import { renderEvidencePage } from '../../src/report/evidencePage.js'
import { renderExplanationText } from '../../src/report/terminal/explanationText.js'
import { EXCLUSION_TEXT } from '../../src/report/words.js'
import {
  calmExplanation,
  openExplanation,
  recommendationData,
  STATUS_SUMMARY,
  statusData,
  SUMMARY,
} from './explanationFixture.js'

const VOID_ELEMENTS = new Set(['meta', 'br', 'hr', 'img', 'link', 'input'])

/** What a person reads in the page: no head, no tags, entities turned back, white space closed up. */
function readable(html: string): string {
  return html
    .slice(html.indexOf('<body>'))
    .replace(/<[^>]*>/g, ' ')
    .replace(/&lt;/g, '<')
    .replace(/&gt;/g, '>')
    .replace(/&quot;/g, '"')
    .replace(/&#39;/g, "'")
    .replace(/&amp;/g, '&')
    .replace(/\s+/g, ' ')
}

/** Names of elements that are closed wrongly or never; empty for a well-formed page. */
function faultsOfNesting(html: string): string[] {
  const open: string[] = []
  const faults: string[] = []
  for (const [, slash, name, rest] of html.matchAll(/<(\/?)([a-z][a-z0-9]*)([^>]*)>/gi)) {
    if (slash === '/') {
      if (open.pop() !== name) faults.push(name!)
    } else if (!VOID_ELEMENTS.has(name!) && !rest!.endsWith('/')) open.push(name!)
  }
  return [...faults, ...open]
}

describe('the fixture', () => {
  it('is what the events allow', () => {
    expect(recommendationSchema.parse(recommendationData())).toEqual(recommendationData())
    expect(statusSchema.parse(statusData())).toEqual(statusData())
  })
})

describe('evidence page of an open recommendation', () => {
  const html = renderEvidencePage(openExplanation())
  const text = readable(html)

  it('has sentence, steps, numbers, pictures, comparison, exclusions, reasons and reproduction in this order', () => {
    const order = [
      SUMMARY,
      'What to do',
      'Tell the control room',
      'Numbers',
      'Pictures',
      'Analyzer against grab samples',
      'What was left out, and why',
      'Why it is asked',
      'How to get the same again',
    ]
    const places = order.map(part => text.indexOf(part))
    expect(places.every(place => place >= 0)).toBe(true)
    expect(places).toEqual([...places].sort((a, b) => a - b))
    expect(html).toContain(`<h1>${SUMMARY}</h1>`)
  })

  it('says what to do, by when and with what care', () => {
    expect(text).toContain('Zero the analyzer: FE3-B')
    expect(text).toContain('Respond by 20 May 2026, 14:00 UTC (15:00 Europe/London).')
    expect(text).toContain('Soon: the tolerance is likely to be passed within 7 days.')
    expect(text).toContain('Local codes, site procedures and licensed practice come first.')
    expect(/<ol class="steps">([^]*?)<\/ol>/.exec(html)?.[1]?.match(/<li>/g)).toHaveLength(7)
    expect(text.indexOf('relieve the pressure before opening')).toBeLessThan(text.indexOf('Tell the control room'))
  })

  it('refuses a standard that has expired, and one without expiry is to be read', () => {
    expect(text).toContain('Standard D-1001, assigned 34.2 NTU on this analyzer, expired 2026-05-12: do not use it.')
    const withStandard = (standard: { id: string; assignedNtu: number; expires?: string }) =>
      readable(
        renderEvidencePage(
          openExplanation({
            recommendation: recommendationData({ procedure: { steps: ['Span.'], cautions: [], standard } }),
          }),
        ),
      )
    expect(withStandard({ id: 'D-1', assignedNtu: 34.2, expires: '2026-05-19' })).toContain('expires 2026-05-19.')
    expect(withStandard({ id: 'D-1', assignedNtu: 34.2 })).toContain('no expiry on record: read its label before use.')
  })

  it('gives the bias with its interval in NTU and in tolerances, onset, forecast, ranked causes and reasons', () => {
    expect(text).toContain('−0.039 NTU, 95 % interval −0.046 to −0.031 NTU (reads low at 0.112 NTU)')
    expect(text).toContain('−0.78 tolerances, 95 % interval −0.92 to −0.63 (one tolerance is 0.050 NTU here)')
    expect(text).toContain(
      'Onset about 9 May 2026, 06:00 UTC, between 8 May 2026, 00:00 UTC and 10 May 2026, 12:00 UTC',
    )
    expect(text).toContain('about 21 May 2026, 18:00 UTC, between 20 May 2026, 06:00 UTC and 23 May 2026, 12:00 UTC')
    expect(text).toContain('When it shows 0.300 NTU the water is probably at 0.339 NTU')
    expect(text).toMatch(/zero drift 0\.93 .*a film on the window 0\.05 .*span drift 0\.02/)
    expect(text).toContain('a span error would have to be 35 %')
  })

  it('says that the time to respond has passed, and how the bias has moved since the request', () => {
    const late = readable(
      renderEvidencePage(
        openExplanation({ recommendation: recommendationData({ respondBy: '2026-05-18T23:30:00Z' }) }),
      ),
    )
    expect(late).toContain('Respond by 18 May 2026, 23:30 UTC (19 May 2026, 00:30 Europe/London): this has passed.')
    expect(text).not.toContain('Since then:')
    const { status } = openExplanation()
    const moved = readable(
      renderEvidencePage(
        openExplanation({
          status: {
            ...status,
            bias: { ...status.bias!, ntu: -0.0515, ofTolerance: -1.03, ofToleranceCi95: [-1.2, -0.9] },
          },
        }),
      ),
    )
    expect(moved).toContain('Since then: the sentence has the numbers known 16 May 2026, 18:00 UTC; now −0.051 NTU')
    expect(moved).toContain('Bias in the request −0.039 NTU')
    expect(moved).toContain('by the present estimate it is passed; about 21 May 2026, 18:00 UTC')
  })

  it('gives no row to "undecided" and no interval to an error without weight', () => {
    const undecided = readable(
      renderEvidencePage(
        openExplanation({
          recommendation: recommendationData({
            cause: {
              ranked: [
                { cause: 'undecided', probability: 0.31 },
                { cause: 'fouling', probability: 0.69 },
                { cause: 'zero_drift', probability: 0.31 },
              ],
              because: [],
            },
            model: { zeroNtu: { value: 0.032, ci95: [0.023, 0.042] }, spanRel: { value: 0.0001, ci95: [0, 0] } },
          }),
        }),
      ),
    )
    expect(undecided).toContain('most probable first; not decided between them')
    expect(undecided).toMatch(/Probability a film on the window 0\.69 zero drift 0\.31/)
    expect(undecided).toContain('Span error no sign of one')
  })

  it('says what a request without a bias rests on', () => {
    const { bias: _bias, model: _model, ...rest } = recommendationData()
    const recommendation = {
      ...rest,
      cause: { ranked: [{ cause: 'bubbles' as const, probability: 1 }], because: ['bubbles'] },
    }
    expect(readable(renderEvidencePage(openExplanation({ recommendation })))).toContain(
      'This request rests on what was found (bubbles raise many readings).',
    )
  })

  it('lists every line of evidence, the silent one too', () => {
    expect(text).toMatch(/Grab samples 19 −0\.\d+ low side 12\.8, limit 6\.4: signal 10 analyzer-years 1 × suspect/)
    expect(text).toContain('24 × no usable reading beside it')
    expect(text).toContain('Verification, D-1001 no verification in the last 10 days')
  })

  it('draws readings, differences, a chart for each line that has values and the comparison, with words for each', () => {
    const labels = [...html.matchAll(/<svg class="(wide|narrow)" role="img" aria-label="([^"]*)"/g)]
    expect(labels.map(([, kind]) => kind)).toEqual(Array.from({ length: 6 }, () => ['wide', 'narrow']).flat())
    expect(labels[0]![2]).toContain('Readings of FE3-B, FE3-A with grab samples, 9 May 2026 to 19 May 2026')
    expect(labels[2]![2]).toContain('Difference of FE3-B to its references in tolerances')
    expect(labels[4]![2]).toMatch(/CUSUM of FE3-B against grab samples.*reading low 12\.8, limit 6\.4/)
    expect(labels[6]![2]).toContain('CUSUM of FE3-B against FE3-A')
    expect(labels[8]![2]).toContain('FE3-B over 19 grab samples in NTU')
    expect(labels[10]![2]).toContain('Zero −0.012 NTU and span +7.1 % of FE3-B')
    expect(html.match(/<figcaption>/g)).toHaveLength(6)
    expect(text).toContain('W1, 10 May 2026, 02:00 UTC cleaned')
  })

  it('counts what was left out with the reason in words, largest first', () => {
    const list = ['not_in_service', 'repeat', 'maintenance', 'suspect_grab'] as const
    const places = list.map(reason => text.lastIndexOf(EXCLUSION_TEXT[reason]))
    expect(text).toContain(`${EXCLUSION_TEXT.not_in_service} 96`)
    expect(places).toEqual([...places].sort((a, b) => a - b))
    expect(text).toContain('L-4407, 12 May 2026, 23:00 UTC: laboratory 0.2')
    expect(text).toContain('suspect: 4.6 u from the last five')
  })

  it('tells how to get the same again', () => {
    expect(text).toContain('turbidrift explain FE3-B --at 2026-05-19T06:00:00Z --html evidence.html')
    expect(text).toContain('8f3a2b91c0de4471')
  })

  it('needs nothing from outside and runs nothing', () => {
    expect(html).not.toMatch(/https?:|\/\/[a-z]|url\((?!#)|<script|<link|<img|@import| on[a-z]+=/i)
    expect(html.startsWith('<!doctype html>\n<html lang="en">')).toBe(true)
    expect(html).toContain('<title>FE3-B: Zero the analyzer, Hollin Weir Water Works, 19 May 2026, 06:00 UTC</title>')
  })

  it('is well formed, and ids are used once', () => {
    expect(faultsOfNesting(html.replace('<!doctype html>', ''))).toEqual([])
    const ids = [...html.matchAll(/ id="([^"]*)"/g)].map(([, id]) => id)
    expect(new Set(ids).size).toBe(ids.length)
    for (const [, id] of html.matchAll(/(?:url\(#|aria-labelledby=")([^")]+)/g)) expect(ids).toContain(id)
  })

  it('gives the same bytes for the same explanation, in every time zone of the machine', () => {
    expect(renderEvidencePage(openExplanation())).toBe(html)
    vi.stubEnv('TZ', 'Pacific/Auckland')
    try {
      expect(new Date(0).getHours()).toBe(12)
      expect(renderEvidencePage(openExplanation())).toBe(html)
    } finally {
      vi.unstubAllEnvs()
    }
  })

  it('stays small', () => {
    expect(html.length).toBeLessThan(500_000)
  })

  it('shows no overall score and counts no time down', () => {
    expect(text).not.toMatch(/score|health|remaining|time left|\bin \d+ (hours|days)\b/i)
  })
})

describe('evidence page with nothing open', () => {
  it('says why not: conditions with value and limit, and what is nearest to changing the answer', () => {
    const text = readable(renderEvidencePage(calmExplanation()))
    expect(text).toContain(STATUS_SUMMARY)
    expect(text).toContain('Nothing is asked for this analyzer now.')
    expect(text).toContain('– not met A chart is beyond its limit: grab samples 1.2 of 6.4')
    expect(text).toContain('✓ met P(another unit or the laboratory) is 0.10 or less: 0.02')
    expect(text).toContain('Nearest to changing the answer: Three more grabs reading 0.04 NTU above FE3-B')
    expect(text.indexOf('Why nothing is asked')).toBeLessThan(text.indexOf('Numbers'))
    expect(text).toContain('A verification: the last one is 41 days old.')
    expect(text).toContain('(cannot be told from none at 0.110 NTU)')
    expect(text).toContain('Local codes, site procedures and licensed practice come first.')
  })

  it('does not ask again what is closed, and says why it closed', () => {
    const text = readable(
      renderEvidencePage(
        calmExplanation({
          recommendation: recommendationData({ phase: 'closed', reason: 'work confirmed by 5 grabs' }),
        }),
      ),
    )
    expect(text).toContain('is closed: work confirmed by 5 grabs.')
    expect(text).not.toContain('Tell the control room')
  })

  it('asks for no second visit while proof is awaited', () => {
    const text = readable(
      renderEvidencePage(openExplanation({ recommendation: recommendationData({ phase: 'awaiting_proof' }) })),
    )
    expect(text).toContain(`Work done, proof awaited. The request was: ${SUMMARY}`)
    expect(text).toContain('No further step now.')
    expect(text).not.toContain('Respond by')
    expect(text).not.toContain('Tell the control room')
  })

  it('draws a bias of many tolerances and a sum far beyond its limit without losing tolerance or limit', () => {
    const far = calmExplanation().lines.map(line => ({
      ...line,
      rows: line.rows.map(row => ({ ...row, ofTolerance: row.ofTolerance + 7, high: 90 * row.limit })),
    }))
    const html = renderEvidencePage(calmExplanation({ lines: far }))
    const [, difference] = /<svg class="wide"[^>]*Difference of FE3-B[^>]*>([^]*?)<\/svg>/.exec(html)!
    const [, chart] = /<svg class="wide"[^>]*CUSUM of FE3-B[^>]*>([^]*?)<\/svg>/.exec(html)!
    const labels = (svg: string) => [...svg.matchAll(/<text[^>]*>([^<]*)<\/text>/g)].map(([, label]) => label)
    expect(labels(difference!)).toEqual(expect.arrayContaining(['−2', '0', '8', '+tolerance', '−tolerance']))
    expect(labels(chart!)).toEqual(expect.arrayContaining(['0', '15', 'limit 6.4', 'reads low']))
  })

  it('names plant, instrument and the plant clock, and the record that makes the same page', () => {
    const text = readable(renderEvidencePage(calmExplanation()))
    expect(text).toContain(
      'Analyzer FE3-B, serial HW-1032 · Filter 3 effluent (FE3) · Hollin Weir Water Works · ' +
        'as of 19 May 2026, 06:00 UTC (07:00 Europe/London)',
    )
    expect(text).toContain('Register 8f3a2b91c0de4471 Recorded input 1 Apr 2026, 00:00 UTC to 19 May 2026, 06:00 UTC')
    expect(text).toContain('Times are UTC; in brackets by the clock of Europe/London.')
    const inUtc = readable(renderEvidencePage(calmExplanation({ timeZone: 'UTC' })))
    expect(inUtc).toContain('as of 19 May 2026, 06:00 UTC What to do')
    expect(inUtc).toContain('All times are UTC.')
  })

  it('shows no onset where nothing is the matter, whatever the estimate carries along', () => {
    const { onset } = openExplanation()
    const html = renderEvidencePage(calmExplanation({ onset: onset! }))
    expect(readable(html)).not.toMatch(/onset/i)
  })

  it('weighs no explanations where nothing independent was compared', () => {
    const { bias: _bias, ...status } = statusData({ assessment: 'not_assessed' })
    const text = readable(renderEvidencePage(calmExplanation({ status })))
    expect(text).not.toContain('Explanations that were weighed')
    expect(text).not.toContain('nothing wrong')
  })

  it('clips what stands far above the rest and says how much and how far', () => {
    const { blocks } = calmExplanation()
    const spiky = blocks.map((block, index) => (index % 100 === 50 ? { ...block, medianNtu: 40 } : block))
    const html = renderEvidencePage(calmExplanation({ blocks: spiky }))
    expect(readable(html)).toMatch(/\d+ of \d+ points lie above the picture, the highest at 40\.0 NTU/)
    const [, readings] = /<svg class="wide"[^>]*Readings of FE3-B[^>]*>([^]*?)<\/svg>/.exec(html)!
    const ticks = [...readings!.matchAll(/<text[^>]*>([\d.]+)<\/text>/g)].map(([, tick]) => Number(tick))
    expect(Math.max(...ticks)).toBeLessThan(1)
    expect(Math.min(...ticks)).toBe(0)
  })

  it('marks the records of one visit once, so that their labels can be read', () => {
    const visit = [0, 20, 30].map(minutes => ({ atMs: Date.UTC(2026, 4, 13, 10, minutes), text: 'work' }))
    const work = [{ atMs: Date.UTC(2026, 4, 10), text: 'cleaned' }, ...visit]
    const html = renderEvidencePage(calmExplanation({ work }))
    expect(html.match(/>W1<\/text>/g)).toHaveLength(8)
    expect(html.match(/>W2–W4<\/text>/g)).toHaveLength(8)
    expect(html).not.toMatch(/>W3<\/text>/)
    expect(readable(html)).toContain('W4, 13 May 2026, 10:30 UTC work')
  })

  it('draws differences and charts of at most 56 days', () => {
    const lines = calmExplanation().lines.map(line => ({
      ...line,
      rows: [...line.rows.slice(0, 1).map(row => ({ ...row, atMs: row.atMs - 90 * 86_400_000 })), ...line.rows],
    }))
    const html = renderEvidencePage(calmExplanation({ lines }))
    expect(html).toContain('Difference of FE3-B to its references in tolerances, 9 May 2026 to 19 May 2026')
  })

  it('does not put a request about the laboratory on the analyzer it measured', () => {
    const {
      bias: _bias,
      model: _model,
      ...data
    } = recommendationData({
      summary: 'Laboratory instrument LAB-1 reads 1.2 tolerances high at 4 points.',
      target: { laboratoryInstrument: 'LAB-1' },
      action: 'check_laboratory',
    })
    const explanation = calmExplanation({ recommendation: data })
    const own =
      'This request is about laboratory instrument LAB-1, which measures grab samples of FE3; it is not about the analyzer FE3-B. ' +
      explanation.status.summary
    expect(readable(renderEvidencePage(explanation))).toContain(own)
    expect(readable(renderEvidencePage(explanation))).toContain(
      'Check the laboratory instrument: laboratory instrument LAB-1',
    )
    expect(renderExplanationText(explanation).replace(/\s+/g, ' ')).toContain(own)
    expect(readable(renderEvidencePage(explanation))).toContain('Soon: before the next planned visit.')
    expect(readable(renderEvidencePage(openExplanation()))).not.toContain('not about the analyzer')
  })

  it('marks the blocks that were left out, of the other unit too', () => {
    const text = readable(renderEvidencePage(calmExplanation()))
    expect(text).toContain('block of FE3-B left out')
    expect(text).toContain('block of FE3-A left out')
    const usable = calmExplanation().companions.map(({ analyzer, blocks }) => ({
      analyzer,
      blocks: blocks.map(block => ({ ...block, usable: true })),
    }))
    expect(readable(renderEvidencePage(calmExplanation({ companions: usable })))).not.toContain('block of FE3-A')
  })

  it('stands without any data', () => {
    const { bias: _bias, lastIndependentEvidence: _last, ...status } = statusData({ assessment: 'not_assessed' })
    const html = renderEvidencePage(
      calmExplanation({
        status,
        blocks: [],
        companions: [],
        grabs: [],
        work: [],
        lines: [],
        excluded: {},
        conditions: [],
      }),
    )
    const text = readable(html)
    expect(text).toContain('cannot be told: nothing independent to compare with')
    expect(text).toContain('No readings are held for this time, so there is nothing to draw.')
    expect(text).toContain('No reading, block or pair was left out.')
    expect(html).not.toMatch(/NaN|undefined|Infinity/)
  })
})

describe('text from outside', () => {
  const hostile = `<script>alert("1")</script> & 'north' </svg>\u202e`
  const html = renderEvidencePage(
    openExplanation({
      pointName: hostile,
      analyzer: hostile,
      nearest: hostile,
      toleranceText: hostile,
      work: [{ atMs: Date.UTC(2026, 4, 12), text: hostile }],
      companions: openExplanation().companions.map(({ blocks }) => ({ analyzer: hostile, blocks })),
      lines: openExplanation().lines.map(line => ({ ...line, against: hostile })),
      grabs: openExplanation().grabs.map(grab => ({ ...grab, use: hostile, sampleId: hostile })),
      recommendation: recommendationData({
        summary: hostile,
        reason: hostile,
        procedure: { steps: [hostile], cautions: [hostile], standard: { id: hostile, assignedNtu: 1 } },
        cause: { ranked: [{ cause: 'undecided', probability: 1 }], because: [hostile] },
      }),
    }),
  )

  it('is shown as it is and never becomes markup, in pictures neither', () => {
    expect(html).not.toMatch(/<script|alert\("|'north'/)
    expect(html).not.toContain('\u202e')
    expect(faultsOfNesting(html.replace('<!doctype html>', ''))).toEqual([])
    expect(html).toContain(
      '<h1>&lt;script&gt;alert(&quot;1&quot;)&lt;/script&gt; &amp; &#39;north&#39; &lt;/svg&gt;\ufffd</h1>',
    )
  })
})

describe('words', () => {
  it('has one text for each exclusion', () => {
    expect(new Set(EXCLUSIONS.map(reason => EXCLUSION_TEXT[reason])).size).toBe(EXCLUSIONS.length)
  })
})
