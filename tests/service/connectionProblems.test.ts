import { expect, it } from 'vitest'
import { parseConnections } from '../../src/adapters/connectionsFile.js'
import { connectionProblems } from '../../src/service/connectionProblems.js'

it('lets one connection only publish to a broker, however its address is written', () => {
  const text = `mqtt:
  reader: { url: "mqtt://broker.example" }
  a: { url: "mqtt://broker.example", publishEvents: true }
  b: { url: "mqtt://BROKER.example:1883", publishEvents: true }
  other: { url: "mqtt://broker.example:1884", publishEvents: true }`
  const read = parseConnections(text, { name: 'connections.yaml', folder: '.', environment: {} })
  if (!read.ok) throw new Error(read.problems.join())
  expect(connectionProblems(read.connections)).toEqual([
    'mqtt.b: publishEvents is true for the same broker (broker.example:1883) under mqtt.a: set it in one of the two',
  ])
})
