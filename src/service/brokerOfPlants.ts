import { startEmbeddedBroker, type StartedBroker } from '../adapters/embeddedBroker.js'
import { topicsOut } from '../adapters/mqttTopics.js'
import { sparingly, UNREAD } from './log.js'
import type { PlantService } from './plantService.js'
import type { Shared } from './serviceOptions.js'

/** One embedded broker for all plants. @param wantedPort 0 for a free one; without it there is no broker */
export async function brokerOfPlants<S>(
  wantedPort: number | undefined,
  plants: readonly PlantService[],
  { log, now, metrics }: Shared<S>,
): Promise<StartedBroker | { readonly ok: true; readonly broker: undefined }> {
  if (wantedPort === undefined) return { ok: true, broker: undefined }
  const unread = sparingly<string>(now, (messages, topic) => log.warn({ messages, topic }, UNREAD))
  const failed = sparingly<{ readonly problem: string; readonly client: string | undefined }>(now, (clients, last) =>
    log.warn({ clients, last }, 'Clients of the embedded broker were cut off'),
  )
  const started = await startEmbeddedBroker({
    port: wantedPort,
    reserved: plants.map(({ plant }) => topicsOut(plant)),
    onPublish: (topic, payload, release) => {
      if (plants.some(plant => plant.take(topic, payload, release))) return true
      unread(topic)
      metrics?.unread()
      return false
    },
    clientsChanged: clients => log.debug({ clients }, 'Clients of the embedded broker'),
    clientFailed: (problem, client) => failed({ problem, client }),
    failed: err => log.error({ err }, 'Something is wrong with the embedded broker'),
  })
  if (started.ok) {
    const { port } = started.broker
    log.info({ url: `mqtt://127.0.0.1:${port}`, port }, 'Embedded broker listens')
  }
  return started
}
