import { formatInstant } from '../model/time.js'
import { biased, confirmed, type FaultTruth, OPENED } from './faultTruth.js'
import type { Scenario } from './scenario.js'

/** Instant at which the true bias of an analyzer first exceeds its tolerance between two times; null if it does not. */
export type PassedAt = (analyzerId: string, fromMs: number, toMs: number) => string | null

/** The faults that make an analyzer read wrong, with the work that ends them. */
export function biasFaults(s: Scenario, passedAt: PassedAt): readonly FaultTruth[] {
  return [
    zeroFall(s, passedAt),
    zeroRise(s, passedAt),
    fouling(s, passedAt),
    ageing(s, passedAt),
    turbidZero(s, passedAt),
    spanStep(s, passedAt),
  ]
}

function zeroFall({ zeroFall: f }: Scenario, passedAt: PassedAt): FaultTruth {
  const passed = passedAt('FE3-B', f.onsetMs, f.zeroMs)
  return {
    ...biased('fe3b-zero-falls', 'FE3-B', 'zero', 'ramp', f.onsetMs, f.zeroMs, passed),
    description: `Zero falls ${f.ntuPerDay.toFixed(4)} NTU a day; put right by a zero on proven zero water.`,
    mustSay: [
      {
        event: OPENED,
        target: { analyzer: 'FE3-B' },
        actions: ['zero', 'zero_and_span'],
        causes: ['zero_drift'],
        after: formatInstant(f.onsetMs),
        before: passed ?? formatInstant(f.zeroMs),
      },
      confirmed('FE3-B', f.zeroMs),
    ],
    mustNotSay: [
      { event: OPENED, target: { analyzer: 'FE3-A' } },
      { event: OPENED, target: { analyzer: 'FE3-B' }, causes: ['fouling'] },
    ],
  }
}

function zeroRise({ zeroRise: f }: Scenario, passedAt: PassedAt): FaultTruth {
  const passed = passedAt('CFE-C', f.onsetMs, f.zeroMs)
  const target = { analyzer: 'CFE-C' }
  return {
    ...biased('cfec-zero-rises', 'CFE-C', 'zero', 'ramp', f.onsetMs, f.zeroMs, passed),
    description: `Zero rises ${f.ntuPerDay.toFixed(4)} NTU a day; a cleaning moves nothing, a zero puts it right.`,
    mustSay: [
      {
        event: OPENED,
        target,
        actions: ['clean_then_verify'],
        causes: ['zero_drift', 'fouling', 'undecided'],
        after: formatInstant(f.onsetMs),
        before: earlier(passed, f.cleanedMs),
      },
      { event: 'work.not_confirmed', target, after: formatInstant(f.cleanedMs), before: formatInstant(f.zeroMs) },
      {
        event: 'recommendation.revised',
        orEvent: [OPENED, 'recommendation.reopened'],
        target,
        actions: ['zero', 'zero_and_span'],
        causes: ['zero_drift'],
        after: formatInstant(f.cleanedMs),
        before: formatInstant(f.zeroMs),
      },
      confirmed('CFE-C', f.zeroMs),
    ],
    mustNotSay: [
      { event: OPENED, target, actions: ['zero', 'span'], before: formatInstant(f.cleanedMs) },
      { event: 'work.confirmed', target, after: formatInstant(f.cleanedMs), before: formatInstant(f.zeroMs) },
    ],
  }
}

function fouling({ fouling: f }: Scenario, passedAt: PassedAt): FaultTruth {
  const passed = passedAt('SW-A', f.onsetMs, f.cleanedMs)
  return {
    ...biased('swa-fouling', 'SW-A', 'fouling', 'accelerating', f.onsetMs, f.cleanedMs, passed),
    description: `The window fouls, ever faster, to ${f.finalNtu.toFixed(2)} NTU; the cleaning puts it right at once.`,
    mustSay: [
      {
        event: OPENED,
        target: { analyzer: 'SW-A' },
        actions: ['clean_then_verify'],
        causes: ['fouling', 'undecided'],
        after: formatInstant(f.onsetMs),
        before: passed ?? formatInstant(f.cleanedMs),
      },
      confirmed('SW-A', f.cleanedMs),
    ],
    mustNotSay: [
      {
        event: OPENED,
        target: { analyzer: 'SW-A' },
        actions: ['zero', 'span', 'zero_and_span'],
        after: formatInstant(f.cleanedMs),
      },
    ],
  }
}

function ageing({ ageing: f }: Scenario, passedAt: PassedAt): FaultTruth {
  const passed = passedAt('RW-B', f.onsetMs, f.replacedMs)
  return {
    ...biased('rwb-light-source', 'RW-B', 'span', 'ramp', f.onsetMs, f.replacedMs, passed),
    description: `Span falls ${(100 * f.relativePerDay).toFixed(2)} % a day as the light source goes to ${f.lightPctAtEnd.toFixed(0)} %; new source and primary calibration put it right.`,
    mustSay: [
      {
        event: OPENED,
        target: { analyzer: 'RW-B' },
        actions: ['inspect', 'zero_and_span', 'span', 'calibrate_primary'],
        causes: ['source_ageing', 'span_drift'],
        after: formatInstant(f.onsetMs),
        before: passed ?? formatInstant(f.replacedMs),
      },
      confirmed('RW-B', f.replacedMs),
    ],
    mustNotSay: [{ event: OPENED, target: { analyzer: 'RW-A' } }],
  }
}

function turbidZero({ turbidZero: f }: Scenario, passedAt: PassedAt): FaultTruth {
  const target = { analyzer: 'FE6-A' }
  return {
    ...biased(
      'fe6-zeroed-on-turbid-water',
      'FE6-A',
      'zero_reference_bad',
      'step',
      f.zeroMs,
      f.rezeroMs,
      passedAt('FE6-A', f.zeroMs, f.rezeroMs),
    ),
    description: `Zeroed on water of ${f.waterNtu.toFixed(3)} NTU taken as 0; zeroed again on proven water.`,
    mustSay: [
      {
        event: 'reference.suspect',
        target,
        causes: ['zero_reference_bad'],
        after: formatInstant(f.zeroMs),
        before: formatInstant(f.rezeroMs),
      },
      { event: 'work.not_confirmed', target, after: formatInstant(f.zeroMs), before: formatInstant(f.rezeroMs) },
      {
        event: OPENED,
        orEvent: ['recommendation.reopened', 'recommendation.revised'],
        target,
        actions: ['zero'],
        causes: ['zero_reference_bad', 'zero_drift'],
        after: formatInstant(f.zeroMs),
        before: formatInstant(f.rezeroMs),
      },
      confirmed('FE6-A', f.rezeroMs),
    ],
    mustNotSay: [
      { event: OPENED, target, before: formatInstant(f.zeroMs) },
      { event: 'work.confirmed', target, after: formatInstant(f.zeroMs), before: formatInstant(f.rezeroMs) },
    ],
  }
}

function spanStep({ spanStep: f }: Scenario, passedAt: PassedAt): FaultTruth {
  const target = { analyzer: 'CW-A' }
  return {
    ...biased('cwa-span-step', 'CW-A', 'span', 'step', f.onsetMs, f.properMs, passedAt('CW-A', f.onsetMs, f.properMs)),
    description: `Span jumps by ${(100 * f.spanRel).toFixed(0)} %; a span that was accepted leaves ${(100 * f.shareLeft).toFixed(0)} % of it, a second one puts it right.`,
    mustSay: [
      {
        event: OPENED,
        target,
        actions: ['span', 'zero_and_span', 'verify'],
        causes: ['span_drift', 'undecided'],
        after: formatInstant(f.onsetMs),
        before: formatInstant(f.halfDoneMs),
      },
      { event: 'work.not_confirmed', target, after: formatInstant(f.halfDoneMs), before: formatInstant(f.properMs) },
      {
        event: 'recommendation.reopened',
        orEvent: [OPENED],
        target,
        actions: ['span', 'zero_and_span', 'verify'],
        after: formatInstant(f.halfDoneMs),
        before: formatInstant(f.properMs),
      },
      confirmed('CW-A', f.properMs),
    ],
    mustNotSay: [
      { event: 'work.confirmed', target, after: formatInstant(f.halfDoneMs), before: formatInstant(f.properMs) },
    ],
  }
}

function earlier(instant: string | null, atMs: number): string {
  const other = formatInstant(atMs)
  return instant !== null && instant < other ? instant : other
}
