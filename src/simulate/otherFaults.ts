import { DAY_MS, formatInstant, HOUR_MS } from '../model/time.js'
import { BIAS_ACTIONS, type FaultTruth, OPENED, plain } from './faultTruth.js'
import { LABORATORY_INSTRUMENT, POINTS } from './hollinWeir.js'
import { badBottle, type BottleResult, steepMs } from './laboratory.js'
import type { Scenario } from './scenario.js'

/** What goes wrong elsewhere than in an analyzer's own reading, and what is not wrong at all. */
export function otherFaults(s: Scenario, bottles: readonly BottleResult[], startMs: number): readonly FaultTruth[] {
  const bad = badBottle(bottles, s)
  return [
    ...s.storms.map((each, index) => storm(s, each, index)),
    standing(s, startMs),
    stuck(s),
    bubbles(s),
    wrongStandard(s),
    ...(bad === undefined ? [] : [badGrab(bad)]),
    laboratory(s),
  ]
}

function bubbles({ bubbles: f }: Scenario): FaultTruth {
  const target = { analyzer: 'FE5-A' }
  return {
    ...plain('fe5-bubbles', 'bubbles', 'episode', f.onsetMs, f.flushedMs),
    analyzer: 'FE5-A',
    concerns: ['FE5-A'],
    description: `Bubbles after a pump change: ${(100 * f.share).toFixed(0)} % of the readings raised for a moment, until the air was vented.`,
    mustSay: [
      {
        event: 'analyzer.finding',
        target,
        finding: 'bubbles',
        after: formatInstant(f.onsetMs),
        before: formatInstant(f.onsetMs + DAY_MS),
      },
      {
        event: OPENED,
        target,
        actions: ['check_sample_line'],
        causes: ['bubbles'],
        after: formatInstant(f.onsetMs),
        before: formatInstant(f.onsetMs + 2 * DAY_MS),
      },
    ],
    mustNotSay: [{ event: OPENED, target, actions: BIAS_ACTIONS }],
    mayOpen: [{ target, actions: ['check_sample_line'] }],
  }
}

function stuck({ stuck: f }: Scenario): FaultTruth {
  const target = { analyzer: 'FE2-A' }
  return {
    ...plain('fe2-stuck', 'stuck', 'episode', f.onsetMs, f.endMs),
    analyzer: 'FE2-A',
    concerns: ['FE2-A'],
    description: 'The same value for 28 hours, across a backwash of its filter.',
    mustSay: [
      {
        event: 'analyzer.finding',
        target,
        finding: 'stuck',
        after: formatInstant(f.onsetMs),
        before: formatInstant(f.onsetMs + 12 * HOUR_MS),
      },
      {
        event: OPENED,
        target,
        actions: ['check_signal'],
        after: formatInstant(f.onsetMs),
        before: formatInstant(f.endMs + 12 * HOUR_MS),
      },
    ],
    mustNotSay: [{ event: OPENED, target, actions: BIAS_ACTIONS }],
    mayOpen: [{ target, actions: ['check_signal'] }],
  }
}

function badGrab(bottle: BottleResult): FaultTruth {
  return {
    ...plain('cfe-bad-grab', 'bad_grab', 'single', bottle.sampledMs, bottle.sampledMs),
    point: 'CFE',
    description: `Sample ${bottle.sampleId} was not CFE water: ${bottle.value} NTU.`,
    mustSay: [
      {
        event: 'reference.suspect',
        target: { point: 'CFE' },
        causes: ['grab_bad'],
        sampleId: bottle.sampleId,
        after: formatInstant(bottle.sampledMs),
        before: formatInstant(bottle.sampledMs + DAY_MS),
      },
    ],
    mustNotSay: ['CFE-A', 'CFE-B', 'CFE-C'].map(analyzer => ({
      event: OPENED,
      target: { analyzer },
      after: formatInstant(bottle.sampledMs),
      before: formatInstant(bottle.sampledMs + 3 * DAY_MS),
    })),
  }
}

function storm({ ageing }: Scenario, each: Scenario['storms'][number], index: number): FaultTruth {
  const endsMs = each.startMs + each.riseMs + 3 * each.decayMs
  const steep = index === 0 ? ` A grab is taken half way up, at ${formatInstant(steepMs(each))}.` : ''
  const sound = ['RW-A', 'FE1-A', 'FE4-A', ...(endsMs < ageing.onsetMs ? ['RW-B'] : [])]
  return {
    ...plain(`storm-${index + 1}`, 'process_change', 'episode', each.startMs, endsMs),
    point: 'RW',
    description: `The river rises by ${each.peakNtu.toFixed(0)} NTU in ${(each.riseMs / HOUR_MS).toFixed(1)} h; the whole works follows, damped. Nothing is wrong.${steep}`,
    mustNotSay: sound.map(analyzer => ({
      event: OPENED,
      target: { analyzer },
      after: formatInstant(each.startMs),
      before: formatInstant(endsMs),
    })),
  }
}

function wrongStandard({ wrongStandard: f }: Scenario): FaultTruth {
  const target = { analyzer: 'CFE-A' }
  return {
    ...plain('cfea-wrong-standard', 'standard_bad', 'step', f.spanMs, undefined),
    analyzer: 'CFE-A',
    concerns: ['CFE-A'],
    description: `Spanned on D-1002, which belongs to CFE-B: span error ${(100 * f.spanRel).toFixed(1)} %, nothing at filtered water.`,
    mustSay: [
      {
        event: 'reference.suspect',
        target,
        causes: ['standard_bad'],
        after: formatInstant(f.spanMs),
        before: formatInstant(f.spanMs + DAY_MS),
      },
    ],
    mustNotSay: [{ event: OPENED, target, actions: ['zero', 'clean_then_verify', 'zero_and_span'] }],
    mayOpen: [{ target, actions: ['span', 'verify'] }],
  }
}

function standing({ standing: f }: Scenario, startMs: number): FaultTruth {
  return {
    ...plain('fe4-standing-bias', 'harmless', 'constant', startMs, undefined),
    analyzer: 'FE4-A',
    description: `A bias of ${f.ofTolerance} tolerance all the time: normal, not worth a visit.`,
    mustNotSay: [{ event: OPENED, target: { analyzer: 'FE4-A' } }],
  }
}

function laboratory({ laboratory: f }: Scenario): FaultTruth {
  const target = { laboratoryInstrument: LABORATORY_INSTRUMENT }
  const after = formatInstant(f.onsetMs)
  return {
    ...plain('bench-reads-high', 'laboratory', 'episode', f.onsetMs, f.endMs),
    laboratoryInstrument: LABORATORY_INSTRUMENT,
    description: 'The bench instrument reads 0.05 NTU and 10 % high at every point, by the time of analysis.',
    mustSay: [
      {
        event: 'reference.suspect',
        target,
        causes: ['laboratory_bias'],
        after,
        before: formatInstant(f.onsetMs + 3 * DAY_MS),
      },
      {
        event: OPENED,
        target,
        actions: ['check_laboratory'],
        causes: ['laboratory_bias'],
        after,
        before: formatInstant(f.onsetMs + 3 * DAY_MS),
      },
    ],
    mustNotSay: POINTS.flatMap(point => point.analyzers).map(({ id }) => ({
      event: OPENED,
      target: { analyzer: id },
      after,
      before: formatInstant(f.endMs + 2 * DAY_MS),
    })),
    mayOpen: [{ target, actions: ['check_laboratory'] }],
  }
}
