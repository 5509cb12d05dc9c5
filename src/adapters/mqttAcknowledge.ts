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
 * PUBACK; the PUBACK is then sent through the client's own `_sendPacket`, which is not part of its interface. This is
 * the only file that reaches inside, and its test fails when the inside changes.
 */
export function acknowledgeLater(client: MqttClient, deliver: (delivery: Delivery) => void): void {
  const inside = client as unknown as Inside
  let connection = 0
  client.on('close', () => connection++)
  client.handleMessage = (packet, done) => {
    const cameBy = connection
    deliver({
      packet,
      acknowledge: () => {
        if (packet.qos !== 1 || cameBy !== connection || !client.connected) return
        inside._sendPacket({ cmd: 'puback', messageId: packet.messageId!, reasonCode: 0 })
      },
      next: () => done(packet.qos === 1 ? NOT_YET : undefined),
    })
  }
}

interface Inside {
  readonly _sendPacket: (packet: {
    readonly cmd: 'puback'
    readonly messageId: number
    readonly reasonCode: number
  }) => void
}

const NOT_YET = new Error('acknowledged after the commit')
