import { DAY_MS, HOUR_MS, MINUTE_MS } from '../model/time.js'
import type { Backwash } from './filterRuns.js'
import { type RandomStream, randomStream } from './random.js'

/** When and how large everything is that happens in one run: drawn once from the seed, read by all the rest. */
export interface Scenario {
  readonly storms: readonly Storm[]
  /** FE3-B: zero falls, then a proper zero. */
  readonly zeroFall: { readonly onsetMs: number; readonly ntuPerDay: number; readonly zeroMs: number }
  /** CFE-C: zero rises, a cleaning moves nothing, then a proper zero. */
  readonly zeroRise: {
    readonly onsetMs: number
    readonly ntuPerDay: number
    readonly cleanedMs: number
    readonly zeroMs: number
  }
  /** SW-A: the window fouls, faster and faster. */
  readonly fouling: {
    readonly onsetMs: number
    readonly finalNtu: number
    readonly cleanedMs: number
    readonly leftNtu: number
  }
  /** RW-B: span falls with the light source. */
  readonly ageing: {
    readonly onsetMs: number
    readonly relativePerDay: number
    readonly lightPctAtEnd: number
    readonly replacedMs: number
  }
  /** FE5-A: bubbles since a pump change. */
  readonly bubbles: { readonly onsetMs: number; readonly share: number; readonly flushedMs: number }
  /** FE2-A: one value for 28 h across a backwash. */
  readonly stuck: { readonly onsetMs: number; readonly endMs: number }
  /** CFE: one bottle that was not CFE water. The grab sampled next after this time. */
  readonly badGrab: { readonly notBeforeMs: number; readonly valueNtu: number }
  /** FE6-A: zeroed on water that was not zero, later properly. */
  readonly turbidZero: { readonly zeroMs: number; readonly waterNtu: number; readonly rezeroMs: number }
  /** CFE-A: spanned on the standard of CFE-B. */
  readonly wrongStandard: { readonly spanMs: number; readonly spanRel: number }
  /** FE4-A: a small standing bias all the time, in tolerances. */
  readonly standing: { readonly ofTolerance: number }
  /** The bench instrument reads high at every point. */
  readonly laboratory: {
    readonly onsetMs: number
    readonly endMs: number
    readonly offsetNtu: number
    readonly relative: number
  }
  /** CW-A: span step, an accepted span that leaves most of it, then a proper one. */
  readonly spanStep: {
    readonly onsetMs: number
    readonly spanRel: number
    readonly shareLeft: number
    readonly halfDoneMs: number
    readonly properMs: number
  }
}

export interface Storm {
  readonly startMs: number
  readonly riseMs: number
  readonly decayMs: number
  readonly peakNtu: number
}

/** Days are counted from the start of the run; no two faults stand at one analyzer, and none of bias begins in the laboratory's days. */
export function drawScenario(seed: number, startMs: number, backwashes: readonly Backwash[]): Scenario {
  const draw = (label: string): RandomStream => randomStream(seed, `scenario:${label}`)
  const near = (random: RandomStream, day: number, jitter: number): number =>
    startMs + Math.round(((day + random.between(-jitter, jitter)) * DAY_MS) / MINUTE_MS) * MINUTE_MS
  /** Work is done by day: on the day drawn, between 09:00 and 14:00 UTC, on a whole five minutes. */
  const byDay = (random: RandomStream, day: number, jitter: number): number =>
    startMs +
    Math.round(day + random.between(-jitter, jitter)) * DAY_MS +
    Math.round(random.between(108, 168)) * 5 * MINUTE_MS

  const fe3 = draw('FE3-B')
  const cfeC = draw('CFE-C')
  const sw = draw('SW-A')
  const rw = draw('RW-B')
  const fe5 = draw('FE5-A')
  const fe6 = draw('FE6-A')
  const cfeA = draw('CFE-A')
  const cw = draw('CW-A')
  const bottle = draw('bad grab')
  const bench = draw('laboratory')
  const bubblesOnsetMs = byDay(fe5, 20, 1)
  const benchOnsetMs = byDay(bench, 44, 0.4)
  return {
    storms: drawStorms(draw('storms'), startMs),
    zeroFall: { onsetMs: near(fe3, 8, 1), ntuPerDay: fe3.between(0.0025, 0.003), zeroMs: byDay(fe3, 34, 0.9) },
    zeroRise: {
      onsetMs: near(cfeC, 5, 1),
      ntuPerDay: cfeC.between(0.0028, 0.0033),
      cleanedMs: byDay(cfeC, 24, 0.9),
      zeroMs: byDay(cfeC, 29, 0.9),
    },
    fouling: {
      onsetMs: near(sw, 10, 1),
      finalNtu: sw.between(0.25, 0.3),
      cleanedMs: byDay(sw, 33, 0.9),
      leftNtu: sw.between(-0.015, 0.015),
    },
    ageing: {
      onsetMs: near(rw, 12, 1),
      relativePerDay: rw.between(0.0047, 0.0054),
      lightPctAtEnd: rw.between(81, 83),
      replacedMs: byDay(rw, 38, 0.9),
    },
    bubbles: {
      onsetMs: bubblesOnsetMs,
      share: fe5.between(0.18, 0.24),
      flushedMs: bubblesOnsetMs + Math.round(fe5.between(4.6, 6.4)) * DAY_MS,
    },
    stuck: drawStuck(draw('FE2-A'), startMs + 15 * DAY_MS, backwashes),
    badGrab: { notBeforeMs: near(bottle, 38, 1), valueNtu: Math.round(bottle.between(0.38, 0.44) * 100) / 100 },
    turbidZero: { zeroMs: byDay(fe6, 18, 0.9), waterNtu: fe6.between(0.048, 0.054), rezeroMs: byDay(fe6, 30, 0.9) },
    wrongStandard: { spanMs: byDay(cfeA, 21, 0.9), spanRel: cfeA.sign() * cfeA.between(0.01, 0.03) },
    standing: { ofTolerance: 0.2 * draw('FE4-A').sign() },
    laboratory: { onsetMs: benchOnsetMs, endMs: benchOnsetMs + 6 * DAY_MS, offsetNtu: 0.05, relative: 0.1 },
    spanStep: {
      onsetMs: near(cw, 14, 1),
      spanRel: cw.between(0.24, 0.26),
      shareLeft: 0.6,
      halfDoneMs: byDay(cw, 22, 0.9),
      properMs: byDay(cw, 34, 0.9),
    },
  }
}

/** The first storm comes while every raw water unit is sound; the others find the spring's work half done. */
function drawStorms(random: RandomStream, startMs: number): readonly Storm[] {
  const storm = (day: number, leastNtu: number, mostNtu: number): Storm => ({
    startMs: startMs + Math.round(random.between(day - 1, day + 1) * 1_440) * MINUTE_MS,
    riseMs: random.between(3, 4) * HOUR_MS,
    decayMs: random.between(14, 20) * HOUR_MS,
    peakNtu: random.between(leastNtu, mostNtu),
  })
  return [storm(7, 145, 160), storm(27, 60, 90), storm(54.5, 90, 120)]
}

/** Begins some hours before a backwash near the wanted time, so that a restart falls inside. */
function drawStuck(random: RandomStream, wantedMs: number, backwashes: readonly Backwash[]): Scenario['stuck'] {
  const washes = backwashes.filter(wash => wash.filter === 'FE2').map(wash => wash.startMs)
  const wash = washes.reduce((best, each) => (Math.abs(each - wantedMs) < Math.abs(best - wantedMs) ? each : best))
  const onsetMs = wash - Math.round(random.between(60, 120)) * 5 * MINUTE_MS
  return { onsetMs, endMs: onsetMs + 28 * HOUR_MS }
}
