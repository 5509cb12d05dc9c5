import { Buffer } from 'node:buffer'
import { once } from 'node:events'
import { createServer, type Socket } from 'node:net'

/** One connection of a client: what it acknowledged, and what it is sent, with the packet number of the test's choice. */
export interface RawConnection {
  readonly acknowledged: readonly number[]
  /** Subscriptions asked for so far: each is answered, so one more is a round trip. */
  readonly subscriptions: () => number
  readonly send: (packetId: number, payload: string) => void
  /** How much the client published that is not acknowledged yet. */
  readonly underWay: () => number
  /** Acknowledges all of that. */
  readonly acknowledge: () => void
  /** Says goodbye with a reason, which MQTT 5 can, and closes. */
  readonly dismiss: (reason: number) => void
  readonly drop: () => void
}

/**
 * Just enough of a broker to choose packet numbers by hand, written from the packets of MQTT 3.1.1 §3 and MQTT 5.0 §3
 * and not by the library under test. Takes one client, keeps no session.
 * @param receiveMaximum of MQTT 5, told at the login: what the client may have under way */
export async function startRawMqttBroker(version: 4 | 5, receiveMaximum = 65_535) {
  const connections: RawConnection[] = []
  const sockets: Socket[] = []
  const server = createServer(socket => {
    sockets.push(socket)
    connections.push(serve(socket, version, receiveMaximum))
  }).listen(0, '127.0.0.1')
  await once(server, 'listening')
  return {
    port: (server.address() as { port: number }).port,
    connections,
    close: () => {
      server.close()
      for (const socket of sockets) socket.destroy()
    },
  }
}

const TYPES = { connect: 1, publish: 3, puback: 4, subscribe: 8, pingreq: 12 }
/** A subscription to a topic under `refused/` is not granted. */
const REFUSED = { 4: 0x80, 5: 135 }
/** Length of the properties, of which there are none; 3.1.1 has no such field. */
const NO_PROPERTIES = { 4: [], 5: [0] }

function serve(socket: Socket, version: 4 | 5, receiveMaximum: number): RawConnection {
  const acknowledged: number[] = []
  const published: number[] = []
  let subscriptions = 0
  let buffer = Buffer.alloc(0)
  const none = NO_PROPERTIES[version]
  const write = (type: number, body: readonly number[]) => socket.write(Buffer.from([type, body.length, ...body]))
  const answer = (type: number, body: Buffer): void => {
    if (type === TYPES.connect)
      write(0x20, [0, 0, ...(version === 4 ? [] : [3, 0x21, receiveMaximum >> 8, receiveMaximum & 255])])
    else if (type === TYPES.publish) published.push(body.readUInt16BE(2 + body.readUInt16BE(0)))
    else if (type === TYPES.subscribe) {
      subscriptions++
      const refused = body.includes('refused/') ? REFUSED[version] : 1
      write(0x90, [body[0]!, body[1]!, ...none, refused])
    } else if (type === TYPES.puback) acknowledged.push(body.readUInt16BE(0))
    else if (type === TYPES.pingreq) write(0xd0, [])
  }
  socket.on('error', () => {})
  socket.on('data', chunk => {
    buffer = Buffer.concat([buffer, chunk])
    for (let packet = next(buffer); packet !== undefined; packet = next(buffer)) {
      answer(packet.type, packet.body)
      buffer = buffer.subarray(packet.end)
    }
  })
  return {
    acknowledged,
    subscriptions: () => subscriptions,
    send: (packetId, payload) => {
      const topic = Buffer.from('site/a')
      write(0x32, [0, topic.length, ...topic, packetId >> 8, packetId & 255, ...none, ...Buffer.from(payload)])
    },
    underWay: () => published.length,
    acknowledge: () => {
      for (const id of published.splice(0)) write(0x40, [id >> 8, id & 255])
    },
    dismiss: reason => {
      write(0xe0, [reason, 0])
      socket.end()
    },
    drop: () => socket.destroy(),
  }
}

/** The first whole packet: its length stands in seven bits a byte, the lowest first (§2.2.3, §1.5.5). */
function next(buffer: Buffer): { type: number; body: Buffer; end: number } | undefined {
  let length = 0
  for (let at = 1; at < buffer.length; at++) {
    length += (buffer[at]! & 127) * 128 ** (at - 1)
    if (buffer[at]! >= 128) continue
    const end = at + 1 + length
    return end > buffer.length ? undefined : { type: buffer[0]! >> 4, body: buffer.subarray(at + 1, end), end }
  }
  return undefined
}
