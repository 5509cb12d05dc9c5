import { Buffer } from 'node:buffer'
import type { IPublishPacket, MqttClient } from 'mqtt'

/** One message as the broker delivered it. */
export interface Delivery {
  readonly packet: IPublishPacket
  /** Sends the PUBACK, on the connection the message came by or not at all: a new connection has other numbers. */
  readonly acknowledge: () => void
  /** Lets the client hand over the next message; until then the socket fills and the broker waits. */
  readonly next: () => void
}

/**
 * Parts "I can take another" from "this one is safe". `mqtt` knows one callback for both, and hands over one message
 * at a time until it is called: batches would be of one. Called with an error it passes the message on without a
 * PUBACK; those of a whole batch are then written at once to the client's own stream, between packets of the client
 * itself, which it writes whole. This is the only file that reaches inside, and its test fails when the inside changes.
 */
export function acknowledgeLater(client: MqttClient, deliver: (delivery: Delivery) => void): void {
  let connection = 0
  let due: number[] = []
  client.on('close', () => {
    connection++
    due = []
  })
  const send = (): void => {
    if (due.length > 0 && client.connected) client.stream.write(pubacks(due))
    due = []
  }
  // Made apart from the delivery, so that what waits for the disk does not hold the packet too.
  const acknowledger = (messageId: number, cameBy: number) => (): void => {
    if (cameBy !== connection) return
    if (due.length === 0) process.nextTick(send)
    due.push(messageId)
  }
  client.handleMessage = (packet, done) => {
    deliver({
      packet,
      acknowledge: packet.qos === 1 ? acknowledger(packet.messageId!, connection) : nothing,
      next: () => done(packet.qos === 1 ? NOT_YET : undefined),
    })
  }
}

const NOT_YET = new Error('acknowledged after the commit')
const nothing = (): void => {}

const PUBACK = 0x40
const LENGTH = 2

/** Each four bytes: without a reason it says success (MQTT 3.1.1 §3.4, MQTT 5.0 §3.4.2.1). */
function pubacks(messageIds: readonly number[]): Buffer {
  const bytes = Buffer.allocUnsafe((2 + LENGTH) * messageIds.length)
  let at = 0
  for (const messageId of messageIds) {
    at = bytes.writeUInt8(PUBACK, at)
    at = bytes.writeUInt8(LENGTH, at)
    at = bytes.writeUInt16BE(messageId, at)
  }
  return bytes
}
