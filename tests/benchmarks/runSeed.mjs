import { registerMessage } from '../../dist/core/registerInput.js'
import { PLANT_CORE } from '../../dist/service/plantCore.js'
import { createReplay } from '../../dist/service/replay.js'
import { simulatePlant } from '../../dist/simulate/simulatePlant.js'

/** Simulates the invented plant and walks its messages through the core. */
export function runSeed(seed) {
  const { register, messages, truth } = simulatePlant({ seed })
  const events = []
  const replay = createReplay({
    core: PLANT_CORE,
    register: { plant: register.plant, message: registerMessage(register) },
    ticks: 'event',
    event: event => events.push(event),
    rejected: () => {},
  })
  let line = 0
  for (const text of messages) replay.take({ feed: 'file', message: JSON.parse(text) }, 'simulated', ++line)
  return { state: replay.finish(), events, truth }
}
