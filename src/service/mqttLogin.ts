import type { MqttBroker } from '../adapters/connectionsFile.js'
import type { MqttCredentials } from '../adapters/mqttConnection.js'

/** Address and login of a broker, its secret revealed: for the client alone. */
export function mqttLogin({ url, username, password }: MqttBroker): { url: string; credentials?: MqttCredentials } {
  if (username === undefined && password === undefined) return { url }
  return {
    url,
    credentials: {
      ...(username === undefined ? {} : { username }),
      ...(password === undefined ? {} : { password: password.reveal() }),
    },
  }
}
