import { Buffer } from 'node:buffer'
import { once } from 'node:events'
import { createServer, type Socket } from 'node:net'
import pino from 'pino'
import { afterEach, expect, it } from 'vitest'
import { checkConnections } from '../../src/adapters/connectCheck/checkConnections.js'
import { brokerAt, NO_CONNECTIONS } from '../../src/adapters/connectionsFile.js'

const open: (() => unknown)[] = []
afterEach(() => {
  for (const close of open.splice(0)) close()
})

it('gives up a broker that takes the login and then leaves every question without an answer', async () => {
  const sockets: Socket[] = []
  const server = createServer(socket => {
    sockets.push(socket)
    // CONNACK of MQTT 5.0 §3.2: accepted, no properties; nothing else is ever said.
    socket.once('data', () => socket.write(Buffer.from([0x20, 3, 0, 0, 0])))
    socket.on('error', () => {})
  }).listen(0, '127.0.0.1')
  await once(server, 'listening')
  open.push(() => {
    server.close()
    for (const socket of sockets) socket.destroy()
  })
  const broker = { ...brokerAt(`mqtt://127.0.0.1:${(server.address() as { port: number }).port}`), version: 5 as const }
  const found = await checkConnections({
    connections: { ...NO_CONNECTIONS, mqtt: new Map([[broker.name, broker]]) },
    plant: 'p',
    feeds: [{ name: 'in', filter: 'site/#', broker }],
    receiveMaximum: 1_000,
    log: pino({ level: 'silent' }),
    deadlineMs: 300,
  })
  expect(found).toEqual([
    {
      connection: `mqtt.${broker.name}`,
      state: 'wrong',
      says: expect.stringMatching(/^was not through after 0\.3 s: /),
    },
  ])
})
