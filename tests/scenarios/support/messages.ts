import type { RegisterFile } from '../../../src/model/register.js'
import { DAY_MS, formatInstant, HOUR_MS, MINUTE_MS, SECOND_MS } from '../../../src/model/time.js'
import { toleranceAt } from '../../../src/model/tolerance.js'
import { classOf, LABORATORY_INSTRUMENT, POINTS } from '../../../src/simulate/hollinWeir.js'
import { randomStream } from '../../../src/simulate/random.js'
import { hollinWeirRegister } from '../../../src/simulate/register.js'
import type { AnalyzerPlan, GrabRounds, Moment, OverTime, ScenarioPlan } from './plan.js'

export interface Sent {
  readonly comesMs: number
  readonly message: Readonly<Record<string, unknown>>
}

/** The register of the invented plant, cut down to the points that take part. */
export function registerOf(plan: ScenarioPlan): RegisterFile {
  const whole = hollinWeirRegister(startOf(plan))
  const points = Object.fromEntries(
    Object.entries(plan.points).map(([id, { grabs }]) => {
      const point = whole.points[id]
      if (point === undefined) throw new RangeError(`${id} is no point of the invented plant`)
      const perDay = grabs === undefined || grabs === 'none' ? undefined : grabs.at.length
      const intervalS = plan.intervalS ?? 300
      const analyzers = Object.fromEntries(
        Object.entries(point.analyzers).map(([analyzer, stated]) => [analyzer, { ...stated, intervalS }]),
      )
      return [id, { ...point, analyzers, ...(perDay === undefined ? {} : { grab: { ...point.grab, perDay } }) }]
    }),
  )
  const analyzers = Object.values(points).flatMap(point => Object.keys(point.analyzers))
  const related = (whole.related ?? []).flatMap(({ downstream, upstream }) => {
    const known = upstream.filter(id => id in points)
    return downstream in points && known.length > 0 ? [{ downstream, upstream: known }] : []
  })
  const register: RegisterFile = {
    ...whole,
    points,
    related,
    standards: (whole.standards ?? []).filter(one => one.analyzer === undefined || analyzers.includes(one.analyzer)),
  }
  plan.register?.(register)
  return register
}

/** Every message of the scenario in order of coming in, without answers and ticks. */
export function messagesOf(plan: ScenarioPlan, register: RegisterFile): Sent[] {
  const sent: Sent[] = []
  for (const [id, { water, grabs }] of Object.entries(plan.points)) {
    const levelNtu = levelOf(plan, id, water)
    for (const analyzer of Object.keys(register.points[id]?.analyzers ?? {}))
      sent.push(...readingsOf(plan, register, id, analyzer, levelNtu))
    if (grabs !== 'none') sent.push(...grabsOf(plan, id, grabs ?? usualRounds(id), levelNtu))
  }
  for (const { comes, ...message } of plan.records ?? []) {
    const ownMs = Date.parse(String(message.time ?? message.sampled))
    const comesMs = comes === undefined ? ownMs + 30 * SECOND_MS : Date.parse(comes)
    if (Number.isNaN(comesMs)) throw new RangeError(`a record without a time: ${JSON.stringify(message)}`)
    sent.push({ comesMs, message })
  }
  return sent
    .map(one => ({ one, text: JSON.stringify(one.message) }))
    .sort((a, b) => a.one.comesMs - b.one.comesMs || (a.text < b.text ? -1 : 1))
    .map(({ one }) => one)
}

export function startOf(plan: ScenarioPlan): number {
  return Date.parse(`${plan.from}T00:00:00Z`)
}

function momentOf(plan: ScenarioPlan, atMs: number): Moment {
  return { atMs, day: (atMs - startOf(plan)) / DAY_MS, hour: (atMs % DAY_MS) / HOUR_MS }
}

/** A plain number wanders by some per cent over hours, as water does. */
function levelOf(plan: ScenarioPlan, point: string, water: OverTime): (atMs: number) => number {
  if (typeof water === 'function') return atMs => water(momentOf(plan, atMs))
  const random = randomStream(plan.seed ?? 1, `water ${point}`)
  const knots = Array.from({ length: 4 * (plan.days + 2) }, () => water * random.between(0.92, 1.08))
  return atMs => {
    const x = Math.max(0, (atMs - startOf(plan)) / (6 * HOUR_MS))
    const from = knots[Math.floor(x)] ?? water
    const to = knots[Math.floor(x) + 1] ?? from
    return from + (to - from) * (x - Math.floor(x))
  }
}

/** Share of the tolerance that white noise, and the slow difference of the water in one cell, come to. */
const NOISE = 0.04
const SLOW = { sd: 0.03, phi: 0.98 } as const

function readingsOf(
  plan: ScenarioPlan,
  register: RegisterFile,
  point: string,
  analyzer: string,
  levelNtu: (atMs: number) => number,
): Sent[] {
  const { intervalS = 300, transportDelayS = 0 } = register.points[point]?.analyzers[analyzer] ?? {}
  const { tolerance, perNtu } = classOf(point)
  const own: AnalyzerPlan = plan.analyzers?.[analyzer] ?? {}
  const random = randomStream(plan.seed ?? 1, `reading ${analyzer}`)
  const endMs = startOf(plan) + plan.days * DAY_MS
  const sent: Sent[] = []
  let slow = 0
  for (let atMs = startOf(plan) + random.between(0, 60) * SECOND_MS; atMs < endMs; atMs += intervalS * SECOND_MS) {
    const t = momentOf(plan, atMs)
    const truthNtu = levelNtu(atMs - transportDelayS * SECOND_MS)
    const toleranceNtu = toleranceAt(tolerance, truthNtu)
    slow = SLOW.phi * slow + SLOW.sd * Math.sqrt(1 - SLOW.phi * SLOW.phi) * random.normal()
    const noise = (own.noiseNtu ?? NOISE * toleranceNtu) * random.normal() + slow * toleranceNtu
    const shown = (own.reads?.(truthNtu, t) ?? truthNtu) + noise
    const value = own.arrives === undefined ? shown : own.arrives(shown, t)
    if (value === undefined) continue
    sent.push({
      comesMs: atMs + (own.comesAfterMin?.(t) ?? 0.5) * MINUTE_MS,
      message: {
        kind: 'reading',
        analyzer,
        time: new Date(Math.floor(atMs / SECOND_MS) * SECOND_MS).toISOString(),
        value: Math.round(value * perNtu) / perNtu,
        unit: 'NTU',
        ...own.fields?.(t),
      },
    })
  }
  return sent
}

function usualRounds(point: string): GrabRounds {
  const site = POINTS.find(one => one.id === point)
  if (site?.grabs === undefined) return { at: [] }
  const hours = 'roundsAtH' in site.grabs ? site.grabs.roundsAtH : [2.2, 8.2, 14.2, 20.2]
  return {
    at: hours.map(
      hour => `${String(Math.floor(hour)).padStart(2, '0')}:${String(Math.round((hour % 1) * 60)).padStart(2, '0')}`,
    ),
  }
}

function grabsOf(plan: ScenarioPlan, point: string, rounds: GrabRounds, levelNtu: (atMs: number) => number): Sent[] {
  const laboratory = classOf(point).laboratory
  const random = randomStream(plan.seed ?? 1, `laboratory ${point}`)
  const endMs = startOf(plan) + plan.days * DAY_MS
  const sent: Sent[] = []
  for (let day = 0; day < plan.days; day++) {
    rounds.at.forEach((clock, k) => {
      const atMs = Date.parse(`${formatInstant(startOf(plan) + day * DAY_MS).slice(0, 10)}T${clock}:00Z`)
      const truthNtu = levelNtu(atMs)
      const spread = Math.hypot(laboratory.standardUncertaintyNtu, laboratory.relative * truthNtu)
      const readNtu = truthNtu + spread * random.normal()
      const t = momentOf(plan, atMs)
      const value = rounds.value === undefined ? readNtu : rounds.value(readNtu, t)
      if (value === undefined || atMs >= endMs) return
      sent.push({
        comesMs: atMs + (rounds.comesAfterH ?? 2) * HOUR_MS,
        message: {
          kind: 'grab',
          point,
          sampled: formatInstant(atMs),
          value: typeof value === 'number' ? Math.round(value * laboratory.perNtu) / laboratory.perNtu : value,
          unit: 'NTU',
          sampleId: `${point}-${String(day + 1)}-${String(k + 1)}`,
          laboratoryInstrument: LABORATORY_INSTRUMENT,
          ...rounds.fields?.(t),
        },
      })
    })
  }
  return sent
}
