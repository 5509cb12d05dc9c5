import { decodeMessage } from '../model/decode.js'
import { type Fault, showValue } from '../model/faults.js'
import { FEED_KINDS } from '../model/messages.js'
import type { Plant } from '../model/plant.js'

/**
 * What is wrong with a message a person hands in, seen before it is handed in: fields, names the register does not
 * know, and kinds only the service itself may write. Empty where it can be taken.
 */
export function checkMessage(message: unknown, plant: Plant): readonly Fault[] {
  const decoded = decodeMessage(message)
  if (!decoded.ok) return decoded.faults
  const { kind } = decoded.message
  if (!(FEED_KINDS as readonly string[]).includes(kind)) {
    return [fault('kind_not_allowed', 'kind', kind, `must be one of ${FEED_KINDS.join(', ')}`)]
  }
  const { analyzer, point } = decoded.message as { analyzer?: string; point?: string }
  const faults: Fault[] = []
  if (analyzer !== undefined && !plant.analyzers.has(analyzer)) {
    faults.push(fault('unknown_analyzer', `${kind}.analyzer`, analyzer, `must be an analyzer of the register`))
  }
  if (point !== undefined && !plant.points.has(point)) {
    faults.push(fault('unknown_point', `${kind}.point`, point, 'must be a point of the register'))
  }
  return faults
}

function fault(code: Fault['code'], field: string, value: string, rule: string): Fault {
  return { code, field, value: showValue(value), rule }
}
