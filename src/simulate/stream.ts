import { formatInstant, HOUR_MS, MINUTE_MS, SECOND_MS } from '../model/time.js'
import type { Backwash } from './filterRuns.js'
import { classOf, FILTERS, INTERVAL_S, LABORATORY_INSTRUMENT, POINTS, type SiteAnalyzer } from './hollinWeir.js'
import type { BottleResult } from './laboratory.js'
import { type RandomStream, randomStream } from './random.js'
import { type Nature, type SentReading, startSignal } from './signal.js'
import type { Visit } from './visits.js'

interface Arrival {
  readonly atMs: number
  readonly line: string
}

/** How readings travel: most are quick, some are slow, all within the lateness a register allows by default. */
const TRAVEL = {
  usualMs: 20_000,
  slowShare: 0.04,
  slowestMs: 90_000,
  repeatShare: 0.003,
  repeatWithinMs: 25_000,
} as const
/** Two readings of one instant that disagree: so rare that a plant sees a few in a season. */
const CONFLICTS_PER_READING = 1 / 60_000

/** All messages in order of arrival, one JSON object each, without line ends. Every iteration starts anew. */
export function streamLines(
  nature: Nature,
  facts: readonly Arrival[],
  startMs: number,
  endMs: number,
): Iterable<string> {
  return { [Symbol.iterator]: () => mergeByArrival(nature, facts, startMs, endMs) }
}

function* mergeByArrival(nature: Nature, facts: readonly Arrival[], startMs: number, endMs: number): Generator<string> {
  const sources = POINTS.flatMap(point => point.analyzers).map((analyzer, index) => ({
    analyzer,
    // Each unit is polled at its own second of the five minutes.
    phaseMs: index * 4 * SECOND_MS,
    next: startSignal(nature, analyzer),
    travel: randomStream(nature.seed, `travel:${analyzer.id}`),
  }))
  let waiting: Arrival[] = []
  let fact = 0
  for (let hourMs = startMs; hourMs < endMs + HOUR_MS; hourMs += HOUR_MS) {
    for (let slotMs = hourMs; slotMs < Math.min(hourMs + HOUR_MS, endMs); slotMs += INTERVAL_S * SECOND_MS) {
      for (const source of sources) {
        const reading = source.next(slotMs + source.phaseMs)
        if (reading !== undefined) send(waiting, source.analyzer, reading, source.travel)
      }
    }
    const untilMs = hourMs + HOUR_MS
    for (; fact < facts.length && facts[fact]!.atMs < untilMs; fact++) waiting.push(facts[fact]!)
    waiting.sort((a, b) => a.atMs - b.atMs)
    const due = waiting.filter(arrival => arrival.atMs < untilMs)
    waiting = waiting.filter(arrival => arrival.atMs >= untilMs)
    for (const arrival of due) yield arrival.line
  }
  for (const arrival of waiting) yield arrival.line
}

function send(waiting: Arrival[], analyzer: SiteAnalyzer, reading: SentReading, travel: RandomStream): void {
  const slow = travel.uniform() < TRAVEL.slowShare
  const latencyMs = travel.uniform() * (slow ? TRAVEL.slowestMs : TRAVEL.usualMs)
  const line = readingLine(analyzer.id, reading, reading.value)
  waiting.push({ atMs: reading.atMs + latencyMs, line })
  const fate = travel.uniform()
  if (fate >= TRAVEL.repeatShare + CONFLICTS_PER_READING) return
  const againMs = reading.atMs + Math.min(latencyMs + travel.uniform() * TRAVEL.repeatWithinMs, TRAVEL.slowestMs)
  const again =
    fate < TRAVEL.repeatShare ? line : readingLine(analyzer.id, reading, otherValue(analyzer, reading.value))
  waiting.push({ atMs: againMs, line: again })
}

/** Three steps of the signal further up. */
function otherValue(analyzer: SiteAnalyzer, value: number): number {
  const { perNtu } = classOf(analyzer.id)
  return (Math.round(value * perNtu) + 3) / perNtu
}

/** Fields that say nothing new (state measuring, quality good) are left out: the stream is long. */
function readingLine(analyzerId: string, reading: SentReading, value: number): string {
  let line = `{"kind":"reading","analyzer":"${analyzerId}","time":"${formatInstant(reading.atMs)}","value":${value},"unit":"NTU"`
  if (reading.state !== undefined) line += `,"state":"${reading.state}"`
  if (reading.flowLMin !== undefined) line += `,"flowLMin":${reading.flowLMin}`
  if (reading.lightSourcePct !== undefined) line += `,"lightSourcePct":${reading.lightSourcePct}`
  return `${line}}`
}

/** Everything that is not a reading, in order of arrival. */
export function factArrivals(
  nature: Nature,
  bottles: readonly BottleResult[],
  backwashes: readonly Backwash[],
  startMs: number,
  endMs: number,
): readonly Arrival[] {
  const travel = randomStream(nature.seed, 'travel:facts')
  const soon = (): number => travel.between(1, 6) * SECOND_MS
  return [
    ...processMessages(backwashes, startMs, soon),
    ...nature.visits.flatMap(visit => workMessages(visit, travel)),
    ...bottles.map(bottle => ({ atMs: bottle.reportedMs, line: grabLine(bottle) })),
    ...laboratoryChecks(nature),
  ]
    .filter(arrival => arrival.atMs < endMs)
    .sort((a, b) => a.atMs - b.atMs)
}

function processMessages(backwashes: readonly Backwash[], startMs: number, soon: () => number): Arrival[] {
  const say = (point: string, atMs: number, state: string): Arrival => ({
    atMs: atMs + soon(),
    line: JSON.stringify({ kind: 'process', point, time: formatInstant(atMs), state }),
  })
  return [
    ...FILTERS.map(filter => say(filter, startMs, 'in_service')),
    ...backwashes.flatMap(wash => [
      say(wash.filter, wash.startMs, 'backwash'),
      say(wash.filter, wash.restartMs, 'to_waste'),
      say(wash.filter, wash.inServiceMs, 'in_service'),
    ]),
  ]
}

/** Written down at the analyzer and sent within the minute. */
function workMessages(visit: Visit, travel: RandomStream): Arrival[] {
  const visitId = `V${formatInstant(visit.onMs).slice(5, 10).replace('-', '')}-${visit.analyzer}`
  const say = (atMs: number, action: string, record: Readonly<Record<string, unknown>>): Arrival => ({
    atMs: atMs + travel.between(5, 50) * SECOND_MS,
    line: JSON.stringify({
      kind: 'work',
      analyzer: visit.analyzer,
      time: formatInstant(atMs),
      id: `${visitId}-${formatInstant(atMs).slice(11, 16).replace(':', '')}-${action}`,
      action,
      ...record,
      visit: visitId,
      by: 'day crew',
    }),
  })
  return [
    say(visit.onMs, 'maintenance_on', {}),
    ...visit.steps.map(step => say(step.atMs, step.action, step.record)),
    say(visit.offMs, 'maintenance_off', {}),
  ]
}

function grabLine(bottle: BottleResult): string {
  return JSON.stringify({
    kind: 'grab',
    point: bottle.point,
    sampled: formatInstant(bottle.sampledMs),
    value: bottle.value,
    unit: 'NTU',
    sampleId: bottle.sampleId,
    analysed: formatInstant(bottle.analysedMs),
    reported: formatInstant(bottle.reportedMs),
    laboratoryInstrument: LABORATORY_INSTRUMENT,
  })
}

/** The bench instrument is checked when its error ends: as found still high, then right. */
function laboratoryChecks(nature: Nature): Arrival[] {
  const { endMs, offsetNtu, relative } = nature.scenario.laboratory
  const reference = 20
  const say = (atMs: number, asFound: number): Arrival => ({
    atMs: atMs + MINUTE_MS,
    line: JSON.stringify({
      kind: 'laboratory_check',
      laboratoryInstrument: LABORATORY_INSTRUMENT,
      time: formatInstant(atMs),
      reference,
      asFound,
    }),
  })
  const high = Math.round((reference * (1 + relative) + offsetNtu) * 100) / 100
  return [say(endMs - 20 * MINUTE_MS, high), say(endMs, 20.02)]
}
