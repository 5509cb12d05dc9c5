import { brokerAddress } from '../adapters/brokerAddress.js'
import type { Connections, MqttBroker } from '../adapters/connectionsFile.js'
import { faultOfSettings } from '../adapters/mqttOptions.js'
import { webhookProblems } from '../adapters/webhook/webhookSink.js'

/**
 * What is wrong with connections by themselves, before anything is tried: keys that are none, certificates that cannot
 * be used, two ways of publishing to one broker.
 */
export function connectionProblems({ mqtt, webhooks }: Connections): string[] {
  const brokers = [...mqtt.values()]
  const ofBrokers = brokers.flatMap((broker, index) => {
    const fault = faultOfSettings(broker) ?? publishesTwice(broker, brokers.slice(0, index))
    return fault === undefined ? [] : [`mqtt.${broker.name}: ${fault}`]
  })
  return [...ofBrokers, ...webhooks.flatMap(webhookProblems)]
}

/** Both would log in with one client id, and each time the broker would end the other. */
function publishesTwice(broker: MqttBroker, earlier: readonly MqttBroker[]): string | undefined {
  const address = brokerAddress(broker.url)
  const other = earlier.find(each => each.publishEvents && broker.publishEvents && brokerAddress(each.url) === address)
  if (other === undefined) return undefined
  return `publishEvents is true for the same broker (${String(address)}) under mqtt.${other.name}: set it in one of the two`
}
