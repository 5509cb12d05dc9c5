import { comparable } from './expected.js'
import type { TestPlant } from './kafkaPlants.js'

/** What was published beside what the unbroken runs publish, as numbers of events. */
export interface Comparison {
  readonly events: number
  readonly lost: number
  readonly doubled: number
  /** Events no unbroken run knows. */
  readonly foreign: number
  /** Events with another content than in the unbroken run. */
  readonly changed: number
  /** Plants whose events came in another order. */
  readonly plantsOutOfOrder: number
}

/** @param bodies every record of the topic, in order within each partition */
export function compareEvents(plants: readonly TestPlant[], bodies: readonly string[]): Comparison {
  const expected = new Map(plants.flatMap(({ expected }) => [...expected]))
  const published = bodies.map(body => ({ ...(JSON.parse(body) as { id: string; source: string }), body }))
  const first = new Map(published.map(({ id, body }) => [id, body]))
  const orderOf = (plant: string) => published.filter(({ source }) => source === plant).map(({ id }) => id)
  const isChanged = ({ id, body }: { id: string; body: string }) =>
    expected.has(id) && expected.get(id) !== comparable(body)
  return {
    events: expected.size,
    lost: [...expected.keys()].filter(id => !first.has(id)).length,
    doubled: published.length - first.size,
    foreign: published.filter(({ id }) => !expected.has(id)).length,
    changed: published.filter(isChanged).length,
    plantsOutOfOrder: plants.filter(({ name, expected }) => orderOf(name).join() !== [...expected.keys()].join())
      .length,
  }
}

/** What a run without any fault compares as. */
export function unbroken(plants: readonly TestPlant[]): Comparison {
  const events = plants.reduce((sum, { expected }) => sum + expected.size, 0)
  return { events, lost: 0, doubled: 0, foreign: 0, changed: 0, plantsOutOfOrder: 0 }
}
