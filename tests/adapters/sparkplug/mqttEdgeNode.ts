import mqtt from 'mqtt'
import { bdSeq, encode, type SentMetric, topicOf } from './edgeNode.js'

/** An edge node on a real broker, as Sparkplug 3.0.0 wants one: a clean session, its death as its will, QoS 0. */
export interface MqttEdgeNode {
  readonly birth: (metrics?: readonly SentMetric[]) => Promise<void>
  readonly send: (
    kind: 'NDATA' | 'DBIRTH' | 'DDATA' | 'DDEATH',
    metrics: readonly SentMetric[],
    device?: string,
  ) => Promise<void>
  /** The next message gets its number, and is lost. */
  readonly lose: () => void
  /** Cuts the connection without a word, so that the broker publishes the will. */
  readonly cut: () => Promise<void>
  readonly end: () => Promise<void>
}

/** @param session number of births and death, one more for each connection */
export async function connectEdgeNode(url: string, session: number, name = 'Filters'): Promise<MqttEdgeNode> {
  const client = await mqtt.connectAsync(url, {
    protocolVersion: 4,
    clean: true,
    reconnectPeriod: 0,
    will: {
      topic: topicOf('NDEATH', name),
      payload: Buffer.from(encode(undefined, [bdSeq(session)])),
      qos: 1,
      retain: false,
    },
  })
  let seq = 0
  const publish = async (kind: string, metrics: readonly SentMetric[], device?: string) => {
    const payload = Buffer.from(encode(seq, metrics))
    seq = (seq + 1) % 256
    await client.publishAsync(topicOf(kind, name, device), payload, { qos: 0 })
  }
  return {
    birth: async (metrics = []) => {
      seq = 0
      await publish('NBIRTH', [bdSeq(session), ...metrics])
    },
    send: publish,
    lose: () => {
      seq = (seq + 1) % 256
    },
    cut: async () => {
      const closed = new Promise<void>(resolve => {
        client.once('close', resolve)
      })
      ;(client.stream as unknown as { destroy: () => void }).destroy()
      await closed
    },
    end: () => client.endAsync(true),
  }
}
