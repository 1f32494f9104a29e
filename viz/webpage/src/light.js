// Light made by code: a soft room to be mirrored, and a lamp that throws shadows.

import {
  BackSide, BufferAttribute, Color, DirectionalLight, Mesh, MeshBasicMaterial, PlaneGeometry, PMREMGenerator, Scene,
  SphereGeometry,
} from 'three';

/** A soft room made by code: bright above, a quiet horizon, a darker floor, and three large lamps. */
export function studio(renderer) {
  const room = new Scene(), ball = new SphereGeometry(10, 48, 32);
  const heights = ball.attributes.position, colours = new Float32Array(heights.count * 3);
  for (let k = 0; k < heights.count; k++) {
    const height = heights.getY(k) / 10;
    const light = height > 0 ? 0.55 + 0.55 * height : 0.4 + 0.2 * height;
    colours.set([0.98 * light, light, 1.03 * light], 3 * k);
  }
  ball.setAttribute('color', new BufferAttribute(colours, 3));
  room.add(new Mesh(ball, new MeshBasicMaterial({ vertexColors: true, side: BackSide })));
  for (const [at, width, height, strength] of [
    [[4.5, 6.5, 5], 5, 4, 4.5], [[-6.5, 3, 4], 3.5, 4, 1.8], [[-2, 5, -7], 6, 2.5, 3],
  ]) {
    const panel = new Mesh(new PlaneGeometry(width, height), new MeshBasicMaterial({ color: new Color().setScalar(strength), side: 2 }));
    panel.position.set(...at);
    panel.lookAt(0, 0, 0);
    room.add(panel);
  }
  const maker = new PMREMGenerator(renderer);
  const map = maker.fromScene(room, 0.03).texture;
  maker.dispose();
  return map;
}

export function lamp() {
  const light = new DirectionalLight(0xfffaf2, 1.5);
  light.castShadow = true;
  light.shadow.mapSize.set(2048, 2048);
  light.shadow.bias = -0.0004;
  light.shadow.normalBias = 0.002;
  light.shadow.radius = 5;
  return light;
}
