import { explainAnalyzer } from '../../../src/core/explain.js'
import type { Explanation } from '../../../src/core/explanation.js'
import type { PlantState } from '../../../src/core/plantState.js'
import { registerMessage } from '../../../src/core/registerInput.js'
import { createPlantState, type Outcome, step } from '../../../src/core/step.js'
import type { PlantEvent, RecommendationData, StatusData } from '../../../src/model/events.js'
import { DAY_MS, formatInstant, MINUTE_MS } from '../../../src/model/time.js'
import type { FindingKind } from '../../../src/model/vocabulary.js'
import { messagesOf, registerOf, startOf } from './messages.js'
import type { Answer, ScenarioPlan } from './plan.js'

export type { Moment, ScenarioPlan } from './plan.js'

type EventOf<T extends PlantEvent['type']> = Extract<PlantEvent, { type: T }>
type RecommendationEvent = Extract<PlantEvent, { data: RecommendationData }>

/** Everything that was said while a scenario ran. */
export interface Said {
  readonly plan: ScenarioPlan
  readonly events: readonly PlantEvent[]
  readonly state: PlantState
  /** Messages that were not taken as they came, with the fault or the reason. */
  readonly refused: readonly { readonly message: unknown; readonly outcome: Outcome }[]
  readonly ofType: <T extends PlantEvent['type']>(type: T) => EventOf<T>[]
  /** Every recommendation event about a target (analyzer, `point:FE3`, `laboratory:BENCH-1`), or about any. */
  readonly requests: (target?: string) => RecommendationEvent[]
  /** The bodies of `recommendation.opened` about a target, or about any. */
  readonly opened: (target?: string) => RecommendationData[]
  readonly findings: (kind?: FindingKind, subject?: string) => EventOf<'analyzer.finding'>[]
  readonly suspects: (reference?: string) => EventOf<'reference.suspect'>[]
  readonly verdicts: (analyzer?: string) => EventOf<'work.confirmed' | 'work.not_confirmed' | 'work.undecided'>[]
  /** The status as it was last told, up to a time. */
  readonly status: (analyzer: string, until?: string) => StatusData
  readonly explain: (analyzer: string) => Explanation
  /** All text of the events between two times: sentences, reasons, questions. For what must not be said. */
  readonly text: (from?: string, until?: string) => string
}

const TICK_MS = 5 * MINUTE_MS

/** Runs a situation through the core as the service would, with a tick each five minutes. */
export function runScenario(plan: ScenarioPlan): Said {
  const register = registerOf(plan)
  const sent = messagesOf(plan, register)
  const answers = [...(plan.answers ?? [])].sort((a, b) => Date.parse(a.time) - Date.parse(b.time))
  const events: PlantEvent[] = []
  const refused: { message: unknown; outcome: Outcome }[] = []
  let state = createPlantState(register.plant)
  const take = (message: unknown): void => {
    const stepped = step(state, { feed: 'file', message })
    state = stepped.state
    events.push(...stepped.events)
    if (stepped.outcome.kind === 'rejected') refused.push({ message, outcome: stepped.outcome })
  }
  take(registerMessage(register))
  let next = 0
  const endMs = startOf(plan) + plan.days * DAY_MS + TICK_MS
  for (let nowMs = startOf(plan); nowMs <= endMs; nowMs += TICK_MS) {
    for (; next < sent.length && sent[next]!.comesMs <= nowMs; next++) take(sent[next]!.message)
    while (answers[0] !== undefined && Date.parse(answers[0].time) <= nowMs) take(answerOf(answers.shift()!, state))
    take({ kind: 'tick', time: formatInstant(nowMs) })
  }
  return saidOf(plan, events, state, refused)
}

function answerOf({ to, ...answer }: Answer, state: PlantState): Record<string, unknown> {
  const open = state.published.cases.get(to)
  if (open === undefined) throw new RangeError(`nothing is open about ${to} at ${answer.time}`)
  return { kind: 'response', recommendation: open.id, ...answer }
}

function saidOf(plan: ScenarioPlan, events: readonly PlantEvent[], state: PlantState, refused: Said['refused']): Said {
  const ofType = <T extends PlantEvent['type']>(type: T): EventOf<T>[] =>
    events.filter((event): event is EventOf<T> => event.type === type)
  const requests = (target?: string): RecommendationEvent[] =>
    events.filter(
      (event): event is RecommendationEvent =>
        event.type.startsWith('recommendation.') && (target === undefined || event.subject === target),
    )
  return {
    plan,
    events,
    state,
    refused,
    ofType,
    requests,
    opened: target => requests(target).flatMap(event => (event.type === 'recommendation.opened' ? [event.data] : [])),
    findings: (kind, subject) =>
      ofType('analyzer.finding').filter(
        event =>
          (kind === undefined || event.data.finding === kind) && (subject === undefined || event.subject === subject),
      ),
    suspects: reference =>
      ofType('reference.suspect').filter(event => reference === undefined || event.data.reference === reference),
    verdicts: analyzer =>
      events.filter(
        (event): event is ReturnType<Said['verdicts']>[number] =>
          event.type.startsWith('work.') && (analyzer === undefined || event.subject === analyzer),
      ),
    status: (analyzer, until = '9999') => {
      const last = ofType('analyzer.status').findLast(event => event.subject === analyzer && event.time <= until)
      if (last === undefined) throw new RangeError(`no status of ${analyzer} was told until ${until}`)
      return last.data
    },
    explain: analyzer => {
      const explanation = explainAnalyzer(state, analyzer)
      if (explanation === undefined) throw new RangeError(`${analyzer} is not in the register`)
      return explanation
    },
    text: (from = '', until = '9999') =>
      events
        .filter(event => event.time >= from && event.time <= until)
        .map(event => JSON.stringify(event.data))
        .join('\n'),
  }
}
