import type { Connections } from '../adapters/connectionsFile.js'
import { faultOfSettings } from '../adapters/mqttOptions.js'
import { webhookProblems } from '../adapters/webhook/webhookSink.js'

/** What is wrong with connections by themselves, before anything is tried: keys that are none, certificates that cannot be used. */
export function connectionProblems({ mqtt, webhooks }: Connections): string[] {
  const ofBrokers = [...mqtt.values()].flatMap(broker => {
    const fault = faultOfSettings(broker)
    return fault === undefined ? [] : [`mqtt.${broker.name}: ${fault}`]
  })
  return [...ofBrokers, ...webhooks.flatMap(webhookProblems)]
}
