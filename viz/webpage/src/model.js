// The parts of one scene in 3D, and how they stand in a pose. Everything outside is in vehicle axes and mm.

import {
  Box3, CanvasTexture, CylinderGeometry, Group, Mesh, MeshBasicMaterial, MeshStandardMaterial, PlaneGeometry, Sphere,
  Vector3,
} from 'three';
import { GLTFLoader } from 'three/addons/loaders/GLTFLoader.js';

// Vertices of a mesh that are asked how far it reaches; the size of a pad as a share of its wheel's radius.
const SAMPLED = 80, PAD = 0.55;

/** From vehicle axes in mm to those of the GLB: x left, y up, z forward, in m. */
export const metres = ([x, y, z]) => new Vector3(y / 1000, z / 1000, x / 1000);

/** A dark patch that fades to nothing at its edge. */
function softShadow() {
  const canvas = document.createElement('canvas');
  canvas.width = canvas.height = 64;
  const brush = canvas.getContext('2d'), fade = brush.createRadialGradient(32, 32, 0, 32, 32, 32);
  [[0, 0.5], [0.35, 0.34], [0.7, 0.1], [1, 0]].forEach(([at, alpha]) => fade.addColorStop(at, `rgba(20, 24, 30, ${alpha})`));
  brush.fillStyle = fade;
  brush.fillRect(0, 0, 64, 64);
  return new CanvasTexture(canvas);
}

/** The parts of one scene. */
export class Model {
  static async made(glb, data) {
    const gltf = await new GLTFLoader().parseAsync(glb, '');
    return new Model(gltf, data);
  }

  constructor(gltf, data) {
    this.data = data;
    this.root = new Group();
    this.root.add(gltf.scene);
    this.nodes = [];
    for (const [thing, { nodes }] of gltf.parser.associations) {
      if (nodes !== undefined && thing.isObject3D) this.nodes[nodes] ??= thing;
    }
    this.wheelLabels = new Set(data.wheels.map((wheel) => wheel.label));
    this.meshes = [];
    const done = new Set();
    gltf.scene.traverse((thing) => {
      if (!thing.isMesh) return;
      const { geometry } = thing;
      if (!done.has(geometry)) {
        geometry.computeVertexNormals();
        done.add(geometry);
      }
      const { color, metalness, roughness, opacity, name } = thing.material;
      thing.material = new MeshStandardMaterial({ color, metalness, roughness, opacity, name });
      thing.castShadow = thing.receiveShadow = true;
      thing.frustumCulled = false;
      thing.userData.label = this.labelOf(thing);
      this.meshes.push(thing);
    });
    this.morphing = data.pliants.map((pliant) => {
      const meshes = [];
      this.nodes[pliant.node].traverse((thing) => { if (thing.morphTargetInfluences) meshes.push(thing); });
      return { node: pliant.node, meshes };
    });
    this.pads = data.wheels.map((wheel) => this.pad(wheel));
  }

  labelOf(thing) {
    for (let up = thing; up; up = up.parent) {
      const number = this.nodes.indexOf(up);
      if (number >= 0 && number < this.data.labels.length) return this.data.labels[number];
    }
    return '';
  }

  pad({ radius, width }) {
    const pad = new Group(), size = (PAD * radius) / 1000, depth = (0.035 * radius) / 1000;
    const disc = new Mesh(new CylinderGeometry(size, size, depth, 72), new MeshStandardMaterial({ color: 0xb9c3cd, roughness: 0.75 }));
    disc.position.y = -0.5 * depth;
    disc.receiveShadow = true;
    const shade = new Mesh(new PlaneGeometry((1.5 * width) / 1000, (1.15 * radius) / 1000),
      new MeshBasicMaterial({ map: softShadow(), transparent: true, depthWrite: false }));
    shade.rotation.x = -0.5 * Math.PI;
    shade.position.y = 0.0008;
    pad.add(disc, shade);
    this.root.add(pad);
    return pad;
  }

  /** Moves every part to a pose. */
  stand({ nodes, places }, pointOn) {
    for (const { node, at, turn } of nodes) {
      this.nodes[node].position.copy(metres(at));
      this.nodes[node].quaternion.set(turn[1], turn[2], turn[0], turn[3]);
    }
    const weights = new Map(nodes.filter((one) => one.weights).map((one) => [one.node, one.weights]));
    for (const { node, meshes } of this.morphing) {
      for (const mesh of meshes) weights.get(node).forEach((weight, k) => { mesh.morphTargetInfluences[k] = weight; });
    }
    this.data.wheels.forEach((wheel, k) => {
      const [x, y, z] = pointOn(places.get(wheel.part), wheel.at);
      this.pads[k].position.copy(metres([x, y, z - wheel.radius]));
    });
    this.root.updateMatrixWorld(true);
  }

  /** The sphere and the corners that the camera keeps in frame: the parts as they stand, wheels with `room` mm more. */
  measure(room) {
    const whole = new Box3();
    this.corners = [];
    for (const mesh of this.meshes) {
      const { position } = mesh.geometry.attributes, step = Math.max(1, Math.floor(position.count / SAMPLED));
      const heights = this.wheelLabels.has(mesh.userData.label) ? [-room / 1000, room / 1000] : [0];
      for (let k = 0; k < position.count; k += step) {
        for (const height of heights) {
          const at = mesh.getVertexPosition(k, new Vector3()).applyMatrix4(mesh.matrixWorld);
          at.y += height;
          whole.expandByPoint(at);
          this.corners.push(at);
        }
      }
    }
    this.bounds = whole.getBoundingSphere(new Sphere());
  }
}
